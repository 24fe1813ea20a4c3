"""A closed segment packed, against FLAC level 4 of the bare samples in it: bytes on disk, and CPU with the check.

The yardstick is libFLAC through libsndfile, as for the packing itself: 1.0 would mean that all but the samples (frame
heads, checksums, edges, arrival times) costs nothing.
"""

from collections import defaultdict
from collections.abc import Iterator
from functools import lru_cache
from io import BytesIO
from random import Random
from time import process_time

import numpy as np
import soundfile
from numpy.typing import NDArray

from firmware_protocol import Decoder, Received, Samples, encode_frame
from server.runs.layout import Entry, Kind, record
from server.runs.packed_file import PackedFile
from server.runs.packing.whole import pack
from simulator.bench import bench, bench_board
from tests.benchmarks.decoder import CHANNELS, RATE_HZ, SETS, TICK_HZ
from tests.benchmarks.pairs import Row, cpu_ratio

BYTES_AT_MOST = 1.15
SHARE_AT_MOST = 0.012  # of a core, with the check
CPU_AT_MOST = 5.0  # of FLAC there and back
UTC_S = 1_795_615_320.0
_READ_S, _READ_JITTER_S = 0.0057, 0.0008  # between two reads of the port


def measure(pairs: int, seconds: float = 30.0, motors: int = 100) -> list[Row]:
    """Rows of goal 5b: the reference board and the boards of the demo bench."""
    wire = reference_wire(seconds)
    rows = [Row("5b", "packed, reference board, to FLAC 4 of its samples", bytes_ratio(wire, seconds), BYTES_AT_MOST)]
    rows += [*cpu_rows(wire, seconds, pairs)]
    for motor in bench()[:motors]:
        board = bench_board(motor)
        wire = b"".join(board.step(0.1) for _ in range(round(10 * seconds)))
        rows.append(Row("5b", f"packed, {motor.name}, to FLAC 4", bytes_ratio(wire, seconds), BYTES_AT_MOST))
    return rows


def cpu_rows(wire: bytes, seconds: float, pairs: int) -> list[Row]:
    """What packing and the check take: a share of a core, and beside FLAC there and back of the same samples."""
    plain = plain_of(wire, seconds)

    def there_and_back() -> None:
        assert checked(plain)

    start = process_time()
    there_and_back()
    share = (process_time() - start) / seconds
    ratio = cpu_ratio(there_and_back, lambda: flac_there_and_back(codes_of(wire)), pairs)
    return [
        Row("5b", "packed and checked, reference board, share of a core", share, SHARE_AT_MOST),
        Row("5b", "packed and checked, to FLAC 4 there and back", ratio, CPU_AT_MOST),
    ]


def checked(plain: bytes) -> bool:
    """A segment packed, and each block unpacked and compared."""
    there = PackedFile(BytesIO(b"".join(pack(plain))))
    return b"".join(each for each in there.plain() if isinstance(each, bytes)) == plain


def bytes_ratio(wire: bytes, seconds: float) -> float:
    """Bytes of the packed segment in those of FLAC level 4."""
    return sum(map(len, pack(plain_of(wire, seconds)))) / sum(len(flac4(codes)) for codes in codes_of(wire))


@lru_cache(maxsize=2)
def reference_wire(seconds: float) -> bytes:
    """The reference board: eight sines of 50 Hz with noise of 3 codes RMS, which never comes again."""
    draw, count = np.random.default_rng(1), round(seconds * RATE_HZ)
    volts = 32767 * 0.4 * np.sin(2 * np.pi * 50 * np.arange(count) / RATE_HZ)[:, np.newaxis]
    values = volts * np.linspace(0.3, 1, CHANNELS) + draw.normal(0, 3, (count, CHANNELS))
    words = (np.rint(values).astype("<i2").view("<u2") ^ 0x8080).reshape(-1, SETS * CHANNELS)
    ticks = SETS * TICK_HZ // RATE_HZ
    blocks = [Samples(0, CHANNELS, SETS * k, ticks * k, each.tobytes()) for k, each in enumerate(words)]
    return b"".join(encode_frame(block, sequence=k, boot=3) for k, block in enumerate(blocks))


def plain_of(wire: bytes, seconds: float) -> bytes:
    """As the recorder writes what a port's reads bring."""
    return b"".join(record(number, entry) for number, entry in enumerate(reads(wire, seconds)))


def reads(wire: bytes, seconds: float) -> Iterator[Entry]:
    """What the reads of a port bring of a wire that takes so long."""
    draw, now_s, at = Random(1), 0.0, 0
    while at < len(wire):
        now_s += _READ_S + abs(draw.gauss(0.0, _READ_JITTER_S))
        end = max(at + 1, round(len(wire) * now_s / seconds))
        yield Entry(Kind.CHUNK, UTC_S + now_s, wire[at:end])
        at = end


@lru_cache(maxsize=2)
def codes_of(wire: bytes) -> tuple[NDArray[np.int16], ...]:
    """The bare samples, group by group: (sets, channels)."""
    groups = defaultdict[tuple[int, int], list[bytes]](list)
    for each in Decoder(from_board=True).feed(wire):
        if isinstance(each, Received) and isinstance(each.message, Samples):
            groups[each.message.group, each.message.channels].append(each.message.words)
    return tuple(
        (np.frombuffer(b"".join(words), "<u2") ^ 0x8080).view("<i2").reshape(-1, channels)
        for (_, channels), words in groups.items()
    )


def flac4(codes: NDArray[np.int16]) -> bytes:
    file = BytesIO()
    soundfile.write(file, codes, RATE_HZ, format="FLAC", subtype="PCM_16", compression_level=4 / 8)
    return file.getvalue()


def flac_there_and_back(groups: tuple[NDArray[np.int16], ...]) -> None:
    for codes in groups:
        soundfile.read(BytesIO(flac4(codes)), dtype="int16")
