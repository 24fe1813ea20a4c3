"""How many bytes a second a described board puts on the wire, so that a line that is too slow is named beforehand.

Pure arithmetic on descriptions. An estimate from above for boards that fill their blocks as SPEC.md advises:
`SETS_PER_BLOCK` sample sets, fewer where a frame holds fewer or where they would take longer than `BLOCK_S_MAX`.
"""

from collections import Counter
from collections.abc import Sequence
from fractions import Fraction
from math import ceil

from firmware_protocol.blocks import Word
from firmware_protocol.channels import ChannelDescription
from firmware_protocol.cobs import encoded_length_max
from firmware_protocol.frame import PAYLOAD_MAX, RAW_FRAME_MIN
from firmware_protocol.identity import Identity
from firmware_protocol.inputs import InputDescription

BITS_PER_BYTE = 10  # 8N1: start bit, eight data bits, stop bit
SETS_PER_BLOCK = 32
BLOCK_S_MAX = 0.05
DESCRIPTION_EVERY_S = 10.0
STATUS_EVERY_S = 0.25

_SAMPLES_HEAD = 14
_STATUS_BYTES = 20 + 2 * (2 + 4)  # temperature and supply with it
_SINGLE_BYTES = 15
_EDGE_BYTES = 4 + 7


def wire_bytes_per_s(
    identity: Identity,
    channels: Sequence[ChannelDescription],
    inputs: Sequence[InputDescription] = (),
    edges_per_s: float = 0.0,
) -> float:
    """Bytes a second from board to PC while it streams, delimiters included.

    Counted: blocks of the even groups, single samples at the longest interval promised, status every 250 ms, the
    whole description every 10 s, and `edges_per_s` edges, each in a frame of its own.
    """
    groups = Counter((c.group, identity.tick_hz / c.ticks_per_sample, c.word) for c in channels if c.ticks_per_sample)
    blocks = sum(_group_bytes_per_s(rate_hz, count, word) for (_, rate_hz, word), count in groups.items())
    intervals = [c.interval_ticks_max for c in channels if c.interval_ticks_max]
    singles = sum(frame_bytes(_SINGLE_BYTES) * identity.tick_hz / ticks for ticks in intervals)
    described: list[Identity | ChannelDescription | InputDescription] = [identity, *channels, *inputs]
    description = sum(frame_bytes(len(message.payload())) for message in described)
    return (
        blocks
        + singles
        + description / DESCRIPTION_EVERY_S
        + frame_bytes(_STATUS_BYTES) / STATUS_EVERY_S
        + frame_bytes(_EDGE_BYTES) * edges_per_s
    )


def bits_per_s_needed(bytes_per_s: float) -> float:
    """The baud rate that just carries so many bytes a second."""
    return bytes_per_s * BITS_PER_BYTE


def frame_bytes(payload_length: int) -> int:
    """Longest form of a frame on the wire, delimiter included."""
    return encoded_length_max(payload_length + RAW_FRAME_MIN) + 1


def _group_bytes_per_s(rate_hz: Fraction, channels: int, word: Word) -> float:
    fitting = 8 * (PAYLOAD_MAX - _SAMPLES_HEAD) // (word.bits * channels)
    sets = max(1, min(SETS_PER_BLOCK, fitting, ceil(rate_hz * BLOCK_S_MAX)))
    return float(rate_hz / sets) * frame_bytes(_SAMPLES_HEAD + word.bytes_of(channels * sets))
