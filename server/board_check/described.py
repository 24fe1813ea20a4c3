"""What a board says of itself: who it is, what it measures, and that it says so often enough."""

from itertools import pairwise

from firmware_protocol import PROTOCOL_MAJOR, PROTOCOL_MINOR, Identity, InputKind, understands
from firmware_protocol.rate import DESCRIPTION_EVERY_S, wire_bytes_per_s
from server.board_check.record import STREAM, Record
from server.board_check.verdict import NO_DESCRIPTION, Check, Seen, failed, not_tried, passed
from server.stream.scaling import TICK_HZ_MIN, ImpossibleDescriptionError, groups_of


def identity(record: Record) -> Seen:
    said = record.of(Identity)
    if not said:
        return failed("no identity came")
    who = said[0]
    if not understands(who.major, who.minor):
        ours = f"{PROTOCOL_MAJOR}.{PROTOCOL_MINOR}"
        return failed(f"it speaks version {who.major}.{who.minor}, this check {ours}")
    if who.tick_hz < TICK_HZ_MIN:
        return failed(f"its tick is {who.tick_hz} Hz, at least {TICK_HZ_MIN}")
    return passed(f"{who.serial}, {who.model or 'no model'}, firmware {who.firmware or 'unknown'}, {who.tick_hz} Hz")


def boot_number(record: Record) -> Seen:
    boots = {received.boot for _, received in record.received()}
    said = {who.boot for who in record.of(Identity) if understands(who.major, who.minor)}
    if not said:
        return NO_DESCRIPTION
    if len(boots) > 1 or len(said) > 1:
        return failed(f"it changed during the check: {_listed(boots)} in the frames, {_listed(said)} in the identity")
    (boot,), (whole,) = boots, said
    if boot != whole & 0xFF:
        return failed(f"frames carry {boot}, the low byte of {whole} is {whole & 0xFF}")
    return passed(f"start number {whole}")


def _listed(numbers: set[int]) -> str:
    return ", ".join(map(str, sorted(numbers)))


def description(record: Record) -> Seen:
    found = [said for _, said in record.descriptions()]
    if not found:
        ours = any(understands(who.major, who.minor) for who in record.of(Identity))
        return failed("it never was complete") if ours else NO_DESCRIPTION
    first = found[0]
    try:
        groups_of(first.channels, first.identity.tick_hz)
    except ImpossibleDescriptionError as error:
        return failed(str(error))
    bits = [each.bit for each in first.inputs if each.kind is not InputKind.COUNTER]
    if len(set(bits)) < len(bits):
        return failed("two inputs have the same bit")
    for said in found:
        if said.identity.revision == first.identity.revision and said != first:
            return failed("it changed without another revision")
    return passed(f"{len(first.channels)} channels, {len(first.inputs)} inputs, said {len(found)} times")


def again(record: Record) -> Seen:
    """While it streams; a talk that is too short to see it says so."""
    if record.description is None:
        return NO_DESCRIPTION
    if record.seconds < DESCRIPTION_EVERY_S + 1.0:
        return not_tried(f"{record.seconds:g} s are too short to see it, {DESCRIPTION_EVERY_S + 1:g} s are needed")
    ticks = _described_ticks(record)
    hertz = record.description.identity.tick_hz
    longest_s = max(b - a for a, b in pairwise(ticks)) / hertz if len(ticks) > 1 else 0.0
    if longest_s > DESCRIPTION_EVERY_S:
        return failed(f"{longest_s:.1f} s passed without it while it streamed")
    return passed(f"at the latest after {longest_s:.1f} s")


def _described_ticks(record: Record) -> list[int]:
    """The newest tick heard of at the beginning of streaming, at each identity in it, and at its end."""
    newest, ticks = 0, list[int]()
    for _, received in record.received(STREAM):
        tick = getattr(received.message, "tick", None)
        if tick is not None:
            newest = max(newest, tick)
            ticks = ticks or [newest]
        if isinstance(received.message, Identity) and newest:
            ticks.append(newest)
    return [*ticks, newest]


def line(record: Record) -> Seen:
    said = record.description
    if said is None:
        return NO_DESCRIPTION
    needed = wire_bytes_per_s(said.identity, list(said.channels), list(said.inputs))
    if record.bytes_per_s is None:
        return passed(f"{needed / 1000:.1f} kB/s by its description; nothing limits this line")
    seen = f"{needed / 1000:.1f} kB/s by its description, the line carries {record.bytes_per_s / 1000:.1f} kB/s"
    return passed(seen) if needed <= record.bytes_per_s else failed(seen)


CHECKS = (
    Check("identity", identity, "send an Identity of this version with a serial number and a usable tick", 10),
    Check("boot number", boot_number, "count the starts; put the low byte of the count into every frame", 5),
    Check("description", description, "describe every channel and input, the same each time or with a revision", 7),
    Check("description again", again, "send the whole description at least every 10 s while streaming", 7),
    Check("line", line, "describe fewer channels or a lower rate, or use a faster line", 3),
)
