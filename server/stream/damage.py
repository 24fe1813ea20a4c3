"""What the decoder found on the wire -> the words a person reads. Pure."""

from firmware_protocol import Damage, DamageKind
from server.readings import DamageReport

_TEXTS = {
    DamageKind.CUT_START: "The stream began in the middle of a frame",
    DamageKind.STUFFING: "A frame was damaged: its coding did not add up",
    DamageKind.CHECKSUM: "A frame was damaged: its checksum differed",
    DamageKind.SHORT: "A frame was too short",
    DamageKind.TOO_LONG: "A frame did not end",
    DamageKind.MALFORMED: "A frame said something impossible",
    DamageKind.LOST: "Frames did not come",
    DamageKind.DOUBLED: "A frame came twice and was left out",
    DamageKind.ECHO: "A request of ours came back: the line echoes what is sent",
    DamageKind.UNKNOWN: "A message of an unknown type was skipped",
}


def report_of(damage: Damage, board_s: float | None) -> DamageReport:
    """The report of one finding; `board_s` is the newest board time heard of before it."""
    frames = 0 if damage.kind is DamageKind.CUT_START else damage.frames
    return DamageReport(damage.kind.value, board_s, f"{_TEXTS[damage.kind]} ({damage.detail})", frames)
