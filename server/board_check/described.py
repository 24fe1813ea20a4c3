"""What a board says of itself: who it is, what it measures, and that it says so often enough."""

from collections.abc import Iterator

from firmware_protocol import (
    PROTOCOL_MAJOR,
    PROTOCOL_MINOR,
    ChannelDescription,
    Identity,
    InputDescription,
    InputKind,
    Role,
    understands,
)
from firmware_protocol.rate import BLOCK_S_MAX, DESCRIPTION_EVERY_S, wire_bytes_per_s
from server.board_check.record import STREAM, Record
from server.board_check.verdict import NO_DESCRIPTION, Check, CheckResult, failed, not_tried, passed
from server.stream.describing import Describer, Description
from server.stream.scaling import NAME_MAX, TICK_HZ_MIN, ImpossibleDescriptionError, groups_of, judge_groups

_UNITS = {Role.VOLTAGE: "V", Role.CURRENT: "A"}


def identity(record: Record) -> CheckResult:
    said = record.of(Identity)
    if not said:
        return not_tried("the port went away before one came") if record.gone else failed("no identity came")
    who = said[0]
    if who.major != PROTOCOL_MAJOR:  # of the candidates, which are read, no board is proven
        ours = f"{PROTOCOL_MAJOR}.{PROTOCOL_MINOR}"
        return failed(f"it speaks version {who.major}.{who.minor}, this check {ours}")
    if who.tick_hz < TICK_HZ_MIN:
        return failed(f"its tick is {who.tick_hz} Hz, at least {TICK_HZ_MIN}")
    names = [text[:NAME_MAX] for text in (who.serial, who.model or "no model", f"firmware {who.firmware or 'unknown'}")]
    return passed(f"{', '.join(names)}, {who.tick_hz} Hz")


def boot_number(record: Record) -> CheckResult:
    every = [received for _, received in record.received(every_start=True)]
    boots = {received.boot for received in every}
    identities = (received.message for received in every if isinstance(received.message, Identity))
    said = {who.boot for who in identities if understands(who.major, who.minor)}
    if not said:
        return NO_DESCRIPTION
    if record.restarted:
        return failed(f"it started anew at: {record.restarted}")
    if len(said) > 1:
        return failed(f"it changed during the check: {_listed(boots)} in the frames, {_listed(said)} in the identity")
    (boot,), (whole,) = boots, said
    if boot != whole & 0xFF:
        return failed(f"frames carry {boot}, the low byte of {whole} is {whole & 0xFF}")
    return passed(f"start number {whole}")


def _listed(numbers: set[int]) -> str:
    return ", ".join(map(str, sorted(numbers)))


def description(record: Record) -> CheckResult:
    found = list(record.descriptions())
    if not found:
        ours = any(understands(who.major, who.minor) for who in record.of(Identity))
        return failed("it never was complete") if ours else NO_DESCRIPTION
    first = found[0]
    if wrong := _implausible(first):
        return failed(wrong)
    strange = next((each for each in _sayings(record) if _is_strange(each, found)), None)
    if strange is not None:
        what = type(strange).__name__
        return failed(f"a {what} of index {strange.index} came that belongs to no description that was whole")
    for said in found:
        if said.identity.revision == first.identity.revision and said != first:
            return failed("it changed without another revision")
    return passed(f"{len(first.channels)} channels, {len(first.inputs)} inputs, said {len(found)} times")


def _sayings(record: Record) -> Iterator[ChannelDescription | InputDescription]:
    for _, received in record.received():
        if isinstance(received.message, ChannelDescription | InputDescription):
            yield received.message


def _is_strange(saying: ChannelDescription | InputDescription, found: list[Description]) -> bool:
    return not any(said.holds(saying) for said in found)


def _implausible(said: Description) -> str:
    try:
        judge_groups(said.channels)
        groups = groups_of(said.channels, said.identity.tick_hz)
    except ImpossibleDescriptionError as error:
        return str(error)
    if groups.keys() != set(range(len(groups))):
        return f"the groups have the numbers {_listed(set(groups))}, not 0 to {len(groups) - 1}"
    bits = [each.bit for each in said.inputs if each.kind is not InputKind.COUNTER]
    if len(set(bits)) < len(bits):
        return "two inputs have the same bit"
    halls = [each.bit for each in said.inputs if each.kind is InputKind.HALL]
    if halls != sorted(halls):
        return f"the bits of the Hall inputs are {', '.join(map(str, halls))}, not in rising order"
    for each in said.channels:
        unit = _UNITS.get(each.role)
        if unit and each.unit and each.unit != unit:
            return f"channel {each.index} is a {each.role.name.lower()} in {each.unit[:NAME_MAX]}, not in {unit}"
    return ""


def again(record: Record) -> CheckResult:
    """While it streams; a talk that is too short to see it says so."""
    if record.description is None:
        return NO_DESCRIPTION
    if record.seconds < DESCRIPTION_EVERY_S + 1.0:
        return not_tried(f"{record.seconds:g} s are too short to see it, {DESCRIPTION_EVERY_S + 1:g} s are needed")
    hertz = record.description.identity.tick_hz
    longest_s = max((end - begin for begin, end in _undescribed(record)), default=0) / hertz
    if longest_s > DESCRIPTION_EVERY_S + BLOCK_S_MAX:  # a block's tick is that of its beginning
        return failed(f"{longest_s:.1f} s passed without it while it streamed")
    return passed(f"at the latest after {longest_s:.1f} s")


def _undescribed(record: Record) -> Iterator[tuple[int, int]]:
    """First and last tick heard of while it streams: up to a description, between two of them, from one to the end."""
    first, newest, describer = -1, -1, Describer()
    for _, received in record.received(STREAM):
        message = received.message
        tick = getattr(message, "tick", -1)
        newest = max(newest, tick)
        first = newest if first < 0 <= tick else first
        if isinstance(message, Identity):
            describer = Describer()
        if not isinstance(message, Identity | ChannelDescription | InputDescription):
            continue
        if describer.take(message) is not None:
            yield first, newest
            first = -1
    if first >= 0:
        yield first, newest


def line(record: Record) -> CheckResult:
    said = record.description
    if said is None:
        return NO_DESCRIPTION
    needed = wire_bytes_per_s(said.identity, list(said.channels), list(said.inputs))
    came = _came_bytes_per_s(record)
    seen = f"{needed / 1000:.1f} kB/s by its description" + (f", {came / 1000:.1f} kB/s came" if came else "")
    if record.bytes_per_s is None:
        return passed(f"{seen}; nothing limits this line")
    seen = f"{seen}, the line carries {record.bytes_per_s / 1000:.1f} kB/s"
    return passed(seen) if needed <= record.bytes_per_s else failed(seen)


def _came_bytes_per_s(record: Record) -> float:
    """While it streamed; 0 where nobody knows when what came."""
    heard = [(at_s, received.offset) for at_s, received in record.received(STREAM) if at_s is not None]
    if not heard or heard[-1][0] <= heard[0][0]:
        return 0.0
    return (heard[-1][1] - heard[0][1]) / (heard[-1][0] - heard[0][0])


CHECKS = (
    Check("identity", identity, "send an Identity of this version with a serial number and a usable tick", 10),
    Check("boot number", boot_number, "count the starts; put the low byte of the count into every frame", 5),
    Check("description", description, "describe every channel and input, the same each time or with a revision", 7),
    Check("description again", again, "send the whole description at least every 10 s while streaming", 7),
    Check("line", line, "describe fewer channels or a lower rate, or use a faster line", 3),
)
