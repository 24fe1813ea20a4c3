"""The list of all messages of the wire. SPEC.md is the authority; every table there has its struct in one file.

`identity`, `channels` and `inputs` describe the board, `blocks` and `data` are what it measures, `control` what the PC
may ask. MESSAGES is the whole list: no message of it can drive a motor.
"""

from typing import TypeAlias

from firmware_protocol.blocks import WORD_CODING, SampleBlock, Samples, Samples12, Samples24, Word
from firmware_protocol.channels import ChannelDescription, Role, SampleKind
from firmware_protocol.control import ClockRequest, Describe, Start, Stop
from firmware_protocol.data import (
    ClockReply,
    Count,
    Counters,
    Edges,
    Single,
    Singles,
    Status,
)
from firmware_protocol.fields import TICK_BITS, TICK_MAX
from firmware_protocol.identity import Identity, Source
from firmware_protocol.inputs import InputDescription, InputKind
from firmware_protocol.version import PROTOCOL_MAJOR, PROTOCOL_MINOR

Message: TypeAlias = (
    Identity
    | ChannelDescription
    | InputDescription
    | SampleBlock
    | Singles
    | Edges
    | Counters
    | Status
    | ClockReply
    | Describe
    | Start
    | Stop
    | ClockRequest
)

FROM_BOARD = (
    Identity,
    ChannelDescription,
    InputDescription,
    Samples,
    Singles,
    Edges,
    Counters,
    Status,
    ClockReply,
    Samples12,
    Samples24,
)
TO_BOARD = (Describe, Start, Stop, ClockRequest)
MESSAGES = FROM_BOARD + TO_BOARD

__all__ = [
    "FROM_BOARD",
    "MESSAGES",
    "PROTOCOL_MAJOR",
    "PROTOCOL_MINOR",
    "TICK_BITS",
    "TICK_MAX",
    "TO_BOARD",
    "WORD_CODING",
    "ChannelDescription",
    "ClockReply",
    "ClockRequest",
    "Count",
    "Counters",
    "Describe",
    "Edges",
    "Identity",
    "InputDescription",
    "InputKind",
    "Message",
    "Role",
    "SampleBlock",
    "SampleKind",
    "Samples",
    "Samples12",
    "Samples24",
    "Single",
    "Singles",
    "Source",
    "Start",
    "Status",
    "Stop",
    "Word",
]
