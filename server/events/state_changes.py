"""Events that are changes of the run state: stalled, released, coasting, stopped. Each is one row of a table."""

from dataclasses import dataclass

from server.events.block import Block, Detector
from server.readings import Event

_KINDS = {
    # (from, to): kind, text, decisive; "" stands for any state
    ("", "stalled"): ("stalled", "Stalled", True),
    ("stalled", "starting"): ("released", "Came free and turned again", True),  # unless the power was off meanwhile
    ("running", "coasting"): ("coasting", "Lost its current and coasted", False),
    ("starting", "coasting"): ("coasting", "Lost its current and coasted", False),
    ("coasting", "resting"): ("stopped", "Stopped", False),
    ("stalled", "resting"): ("stopped", "Stopped", False),
    ("running", "resting"): ("stopped", "Stopped", False),
}


@dataclass(frozen=True, slots=True)
class _Last:
    """The last known run state, and the last one whether known or not."""

    known: str = ""
    told: str = ""


def _step(last: _Last | None, block: Block) -> tuple[_Last, list[Event]]:
    last = last or _Last()
    found = []
    for board_s, one, other in block.turns(last.known):
        kind = _KINDS.get((one, other)) or _KINDS.get(("", other))
        if kind is None or (kind[0] == "released" and _told_before(block, board_s, last.told) != one):
            continue
        found.append(Event(kind[0], board_s, kind[1], _detail(block, board_s), decisive=kind[2]))
    return _Last(block.last_state(last.known), block.states[-1] if block.states else last.told), found


def _told_before(block: Block, board_s: float, told: str) -> str:
    """The run state in the row before that of `board_s`, known or not."""
    assert block.fast is not None
    row = int((block.fast.board_s >= board_s).argmax())
    return block.states[row - 1] if row else told


def _detail(block: Block, board_s: float) -> str:
    """Current and speed of that row, as far as they are known."""
    assert block.fast is not None
    row = int((block.fast.board_s >= board_s).argmax())
    amps, rpm = float(block.fast.current_a[row]), float(block.fast.speed_rpm[row])
    words = [f"{amps:.3g} A" if amps == amps else "", f"{rpm:.0f} r/min" if rpm == rpm else ""]
    return ", ".join(filter(None, words))


STATE_CHANGES = Detector("state_changes", _step)
