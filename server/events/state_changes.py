"""Events that are changes of the run state: stalled, released, coasting, stopped. Each is one row of a table."""

from dataclasses import dataclass, replace

from server.events.block import UNKNOWN, Block, Detector
from server.events.reversed import RPM_MIN, UNTURNED, Turn, turned
from server.readings import Event, StateChange

_KINDS = {
    # (from, to): kind, text, decisive; "" stands for any state
    ("", "stalled"): ("stalled", "Stalled", True),
    ("stalled", "starting"): ("released", "Came free and turned again", True),  # unless it was not known meanwhile
    ("running", "coasting"): ("coasting", "Lost its current and coasted", False),
    ("starting", "coasting"): ("coasting", "Lost its current and coasted", False),
    ("coasting", "resting"): ("stopped", "Stopped", False),
    ("running", "resting"): ("stopped", "Stopped", False),
}
TELL_GIVE_S = 0.1
BRAKED = 0.1  # of the speed at which it ran: a shaft that loses its current this slow was brought down by its drive
PASSAGE_S = 1.0  # a shorter stop on the way to the other direction is part of the reversal


@dataclass(frozen=True, slots=True)
class _Last:
    """The last known run state, and the last one whether known or not; the speed at which it ran; which way it turned.

    `stop`: told when it is known that no reversal makes it.
    """

    known: str = ""
    told: str = ""
    ran_rpm: float = 0.0
    turn: Turn = UNTURNED
    stop: Event | None = None


def _step(last: _Last | None, block: Block) -> tuple[_Last, list[Event]]:
    last = last or _Last()
    found: list[Event] = []
    if block.fast is None or not (block.fast.changes or last.stop):  # nearly always
        return last, found
    if last.stop is not None:
        turn, reversals = turned(last.turn, block.fast)
        last = replace(last, turn=turn, stop=None if reversals else last.stop)
    for change in block.fast.changes:
        last = _changed(last, block, change, found)
    stop = last.stop
    if stop is not None and last.known != "starting" and block.board_s - stop.board_s >= PASSAGE_S:
        found.append(stop)
        last = replace(last, stop=None)
    return last, found


def _changed(last: _Last, block: Block, change: StateChange, found: list[Event]) -> _Last:
    state, rpm, stop = change.state, _speed(block, change), last.stop
    kind = None if state == last.known else _KINDS.get((last.known, state)) or _KINDS.get(("", state))
    if kind is not None and _is_so(kind[0], last, rpm):
        event = Event(kind[0], change.board_s, kind[1], _detail(block, change, rpm), decisive=kind[2])
        if kind[0] == "stopped":
            stop = event
        else:
            found.append(event)
    if abs(rpm) >= RPM_MIN and stop is None:
        last = replace(last, turn=Turn(1 if rpm > 0 else -1))
    ran_rpm = abs(rpm) if state == "running" and rpm == rpm else last.ran_rpm
    return replace(last, known=last.known if state == UNKNOWN else state, told=state, ran_rpm=ran_rpm, stop=stop)


def _is_so(kind: str, last: _Last, rpm: float) -> bool:
    if kind == "released":
        return last.told == last.known  # not known meanwhile: its power may have been off
    return kind != "coasting" or not abs(rpm) < BRAKED * last.ran_rpm


def _speed(block: Block, change: StateChange) -> float:
    """In the row that told it; NaN where it is not known."""
    assert block.fast is not None
    return float(block.fast.speed_rpm[block.told_row(change)])


def _detail(block: Block, change: StateChange, rpm: float) -> str:
    """The current that holds it, or the speed from which it coasts: what stands has no speed, what rests no current."""
    assert block.fast is not None
    if change.state == "coasting" and rpm == rpm:
        return f"{rpm:.0f} r/min"
    if change.state == "resting" and change.give_s >= TELL_GIVE_S:
        return f"give or take {change.give_s:.1f} s"
    amps = float(block.fast.current_a[block.told_row(change)])
    if change.state != "stalled" or amps != amps or block.current is None:
        return ""
    where = "" if block.alternating else f"{block.window.channels[block.current].place} "
    return f"{where}{amps:.3g} A"


STATE_CHANGES = Detector("state_changes", _step)
