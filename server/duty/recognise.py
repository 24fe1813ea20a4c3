"""Starts, stops and cycles recognised from windows as they come. Pure: a state in, a state and what ended out.

A start is the change of the run state into `starting` of a motor that was off; a stop is the end of its current. What
samples that are missing may hide is never made up: it stands as a doubt of the cycle in which it lies, and a cycle
that is on behind a gap and was off before it is counted with its start not seen.
"""

from dataclasses import dataclass, replace
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from server.duty.cycle import Begun, Cycle
from server.duty.going import ROW_S, ROWS_MAX, Going, Rows, cycle_of, heat_of, settled
from server.duty.inrush import DIRECT_S, TAIL_S, seen
from server.events.block import UNKNOWN, Block
from server.readings import Reading, StateChange

HIDES_S = 0.04  # of samples that are missing in a row can hide a stop and a start: two rows of each
QUIET = 0.05  # of the plate current: less is no current of a motor that runs
QUIET_S = 0.2  # so long without it is off, where the run state does not know: a drive lets its current pass zero
_RAN_MAX = 6  # windows, 1.2 s: what follows a run is told by then, and dated back
_TAIL_ROWS = 5
_IN_GAP_S = 0.3  # a moment this close behind a gap may lie in it: a board vouches for its edges every 0.25 s at least
_OFF = ("coasting", "resting")


@dataclass(frozen=True, slots=True)
class Duty:
    """`known`: the last known run state; `count`: cycles so far; `last_s`: end of the newest window in board time.

    `lost_s`: samples missing in a row up to there; `gap_s`: end of the newest gap that hides something;
    `hidden_s`: what gaps hide while there is no cycle yet. `tail`, `tail_rows`: the newest of the current. `quiet_s`:
    since when there is none; `was_off`: there has been none for a while.
    """

    known: str = ""
    count: int = 0
    going: Going | None = None
    last_s: float = 0.0
    lost_s: float = 0.0
    gap_s: float | None = None
    hidden_s: float = 0.0
    tail: NDArray[np.float64] | None = None
    tail_clipped: bool = False
    tail_rows: Rows | None = None
    quiet_s: float | None = None
    was_off: bool = False


Said: TypeAlias = tuple[Duty, list[Cycle]]


def step(duty: Duty | None, block: Block) -> Said:
    """One window of the main group; the cycles that ended with it."""
    duty, ended = _gap(duty or Duty(), block, duty is None), list[Cycle]()
    for change in block.fast.changes if block.fast is not None else ():
        duty = _changed(duty, block, change, ended)
    duty = _quietened(replace(duty, last_s=block.board_s), block)
    if duty.going is not None:
        duty = replace(duty, going=_measured(duty, duty.going, block))
    return _with_tail(duty, block), ended


def under_way(duty: Duty | None, why: str = "") -> Cycle | None:
    """The cycle that has not ended, as it is known now; `why`: nothing more will be known of it."""
    return None if duty is None or duty.going is None else cycle_of(duty.going, None, duty.last_s, why)


def _gap(duty: Duty, block: Block, first: bool) -> Duty:
    """Samples that are missing. What the board sent before anybody listened is no gap."""
    missing = block.window.missing
    if first:
        missing = missing[int(missing.argmin()) :]
    lost_s = block.gap_s + float(missing.sum()) / block.window.rate_hz
    if not lost_s:
        return duty if not duty.lost_s else replace(duty, lost_s=0.0)
    goes_on = bool(missing.size and missing[0]) or block.gap_s > 0.0
    run_s = duty.lost_s + lost_s if goes_on else lost_s
    hides_s = 0.0 if run_s < HIDES_S else lost_s if goes_on and duty.lost_s >= HIDES_S else run_s
    duty = replace(
        duty,
        lost_s=run_s if missing.size and missing[-1] else 0.0,
        gap_s=_gap_end_s(block, missing) if hides_s else duty.gap_s,
    )
    going = duty.going
    if going is None:
        return replace(duty, hidden_s=duty.hidden_s + hides_s)
    going = replace(going, lost=True, lost_start=going.lost_start or going.starts)
    if going.on:
        return replace(duty, going=replace(going, on_hidden_s=going.on_hidden_s + hides_s))
    return replace(duty, going=replace(going, off_hidden_s=going.off_hidden_s + hides_s))


def _gap_end_s(block: Block, missing: NDArray[np.bool_]) -> float:
    """Board time of the sample behind the last one that is missing; of the first, where none is in this window."""
    window, at = block.window, np.flatnonzero(missing[::-1])
    last = window.count - int(at[0]) if at.size else 0
    return (window.first_tick + last * window.ticks_per_sample) / window.tick_hz


def _changed(duty: Duty, block: Block, change: StateChange, ended: list[Cycle]) -> Duty:
    going, state = duty.going, change.state
    if going is not None and going.running and state != "running":
        going = settled(going, change.board_s)
        duty = replace(duty, going=going)
    if state == UNKNOWN:
        return duty
    if state == duty.known and (going is None or going.on or state in _OFF):
        return duty
    if going is not None and going.on:
        duty = replace(duty, going=_went_on(duty, block, going, change))
    elif state not in _OFF:
        duty = _started(duty, block, change, ended)
    elif going is not None and state == "resting" and going.rest_s is None:
        duty = replace(duty, going=replace(going, rest_s=change.board_s, rest_give_s=change.give_s))
    return replace(duty, known=state)


def _started(duty: Duty, block: Block, change: StateChange, ended: list[Cycle]) -> Duty:
    """A cycle begins, and the one before ends."""
    if duty.going is not None:
        ended.append(cycle_of(duty.going, change.board_s, change.board_s))
    before = not duty.known and duty.going is None and not duty.was_off
    seen_begin = change.state == "starting" and not _in_gap(duty, change.board_s)
    begun = Begun.SEEN if seen_begin else Begun.BEFORE if before else Begun.UNSEEN
    channel = None if block.current is None else block.window.channels[block.current]
    sensor = block.edges_per_turn > 0
    lost = bool(block.window.missing.any())
    going = Going(duty.count + 1, change.board_s, begun, channel, sensor, lost=lost, lost_start=lost)
    going = replace(going, before_hidden_s=duty.hidden_s)
    if change.state == "running":
        going = replace(going, up_s=change.board_s)
    if change.state == "stalled":
        going = replace(going, stalls=1, held=True)
    return replace(duty, going=going, count=going.number, hidden_s=0.0)


def _went_on(duty: Duty, block: Block, going: Going, change: StateChange) -> Going:
    """It was on, and what it does is another thing."""
    state = change.state
    if state in _OFF:
        stopped = _stopped(duty, block, going, change.board_s, _rpm(block, change))
        is_rest = state == "resting"
        return replace(stopped, rest_s=change.board_s, rest_give_s=change.give_s) if is_rest else stopped
    if state == "stalled":
        return replace(going, stalls=going.stalls + 1, held=going.held or going.up_s is None)
    if state == "starting":  # its sum of energy begins anew with each of these
        reversed_ = going.reversals + (duty.known == "running")
        return replace(going, reversals=reversed_, spent=going.spent.begins_anew())
    if going.up_s is not None:
        return going
    rpm, start_heat = abs(_rpm(block, change)), None
    if going.rows is not None:
        rows = [*going.rows, _rows(block)]
        start_heat = sum(heat_of(each, going.start_s, change.board_s) for each in rows)
    edge_s = 60.0 / (rpm * block.edges_per_turn) if going.sensor and rpm > 0.0 else 0.0
    return replace(going, up_s=change.board_s, up_give_s=edge_s, start_heat=start_heat, rows=())


def _stopped(duty: Duty, block: Block, going: Going, off_s: float, rpm: float) -> Going:
    """Its current ended, at this speed."""
    heat = going.heat + heat_of(_rows(block), going.start_s, off_s)
    return replace(going, off_s=off_s, off_rpm=rpm, in_gap=_in_gap(duty, off_s), rows=(), heat=heat)


def _quietened(duty: Duty, block: Block) -> Duty:
    """Where the run state does not know whether the shaft turns, the current alone tells that it is off."""
    if block.fast is None or not block.plate.current_a or block.bridged:
        return duty
    flows = np.flatnonzero(~(block.fast.current_a < QUIET * block.plate.current_a))  # what did not come may be some
    if flows.size:
        last = int(flows[-1])
        quiet_s = float(block.fast.board_s[last]) if last < len(block.fast.board_s) - 1 else None
    else:
        quiet_s = float(block.fast.board_s[0]) - ROW_S if duty.quiet_s is None else duty.quiet_s
    is_off = quiet_s is not None and block.board_s - quiet_s >= QUIET_S
    duty = replace(duty, quiet_s=quiet_s, was_off=duty.was_off or is_off)
    going = duty.going
    if going is None or not going.on or not is_off or quiet_s is None or block.states[-1:] != (UNKNOWN,):
        return duty
    return replace(duty, going=_stopped(duty, block, going, max(quiet_s, going.start_s), float("nan")))


def _in_gap(duty: Duty, at_s: float) -> bool:
    """Whether a moment that was told may lie in the newest gap."""
    return duty.gap_s is not None and at_s <= duty.gap_s + _IN_GAP_S


def _measured(duty: Duty, going: Going, block: Block) -> Going:
    """With what this window shows of it."""
    readings = {each.key: each for each in block.readings if not each.place}
    going = replace(going, spent=going.spent.take(readings.get("energy_wh")))
    if not going.on or block.fast is None or block.current is None:
        return going
    rows = _rows(block)
    going = replace(going, heat=going.heat + heat_of(rows, going.start_s, block.board_s))
    if going.starts:
        return _begins(duty, going, block, rows)
    if block.states and not block.window.missing.any() and all(each == "running" for each in block.states):
        key = "current_rms_a" if block.alternating else "current_mean_a"
        ran = block.board_s, readings.get(key), _good_speed(readings.get("speed_rpm"))
        first, *others = (*going.running, ran)
        if len(others) < _RAN_MAX:
            return replace(going, running=(first, *others))
        _, current, speed = first
        return replace(going, running=tuple(others), current=going.current.take(current), speed=going.speed.take(speed))
    return going


def _good_speed(reading: Reading | None) -> Reading | None:
    """Its magnitude is the mean's business, not its direction."""
    if reading is None or not isinstance(reading.value, float) or reading.value >= 0.0:
        return reading
    return replace(reading, value=-reading.value, uncertainty=reading.uncertainty)


def _begins(duty: Duty, going: Going, block: Block, rows: Rows) -> Going:
    """A window of a start; its first one takes the end of the one before along."""
    assert block.current is not None
    window, known = block.window, going.rows or ()
    values, clipped = window.values[block.current], bool(window.clipped[block.current].any())
    if duty.tail is not None:
        values = np.concatenate((duty.tail, values))
        clipped |= duty.tail_clipped
    if not known and duty.tail_rows is not None:
        before = duty.tail_rows
        going = replace(going, heat=going.heat + heat_of(before, going.start_s, block.board_s))
        known = (before,)
    hertz = block.plate.frequency_hz if block.alternating else None
    half_cycle = round(window.rate_hz * (0.5 / hertz if hertz else DIRECT_S))
    missing = block.gap_s > 0.0 or bool(np.isnan(values).any())
    inrush = seen(going.inrush, values, half_cycle, missing, clipped)
    kept = (*known, rows)
    if sum(each.shape[1] for each in kept) > ROWS_MAX:
        return replace(going, inrush=inrush, rows=None)
    return replace(going, inrush=inrush, rows=kept)


def _with_tail(duty: Duty, block: Block) -> Duty:
    if block.current is None or block.fast is None:
        return duty
    samples = round(TAIL_S * block.window.rate_hz)
    clipped = bool(block.window.clipped[block.current, -samples:].any())
    tail = block.window.values[block.current, -samples:].copy()
    return replace(duty, tail=tail, tail_clipped=clipped, tail_rows=_rows(block)[:, -_TAIL_ROWS:])


def _rows(block: Block) -> Rows:
    assert block.fast is not None
    return np.vstack((block.fast.board_s, block.fast.current_a))


def _rpm(block: Block, change: StateChange) -> float:
    assert block.fast is not None
    return float(block.fast.speed_rpm[block.told_row(change)])
