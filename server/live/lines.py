"""What the pipeline says -> JSON lines: `follow`, `read` and the API write the same ones. Pure.

Each line is one object with its `kind`: readings, event, cycle, damage, described or mark. Readings of one window are
one line; a slow channel and the board's clock have their own. Readings stand under their ids, the keys of the catalogue
(with the place behind a dot). An absent one is null, its reason stands in `absent`; the reason of a doubtful one in
`doubtful`. NaN and infinity are never written.
"""

import json
from collections.abc import Iterator
from math import isfinite
from typing import TypeAlias

from server.duty import Cycle
from server.live.intervals import interval_record
from server.live.records import TIME_DIGITS, BoardClock
from server.pipeline import Description, Output
from server.readings import Confidence, DamageReport, Event, Instant, Reading

Line: TypeAlias = dict[str, object]


def lines_of(output: Output, clock: BoardClock | None = None) -> Iterator[str]:
    """The lines of one output, each with its line end. `clock` adds UTC where the board's clock is synchronised."""
    return (_text(line) for line in _lines(output, clock))


def mark_line(text: str, utc_s: float | None = None) -> str:
    """A line for what no board said: a cable out, a piece of a file that cannot be read."""
    return _text({"kind": "mark", "utc_s": utc_s, "text": text})


def _lines(output: Output, clock: BoardClock | None) -> Iterator[Line]:
    if output.described is not None:
        yield _described(output.described)
    for damage in output.damage:
        yield _damage(damage, clock)
    said: list[Instant | Event] = [*output.instants, *output.events]
    said.sort(key=lambda each: each.board_s)  # stable: an event stands behind the readings of its time
    for each in said:
        yield _instant(each, clock) if isinstance(each, Instant) else _event(each, clock)
    for cycle in output.cycles:
        yield _cycle(cycle, clock)


def _text(line: Line) -> str:
    return json.dumps(line, ensure_ascii=False, allow_nan=False, separators=(",", ":")) + "\n"


def _times(board_s: float | None, clock: BoardClock | None) -> Line:
    times: Line = {"board_s": None if board_s is None else round(board_s, TIME_DIGITS)}
    if clock is not None and board_s is not None and clock.uncertainty_s is not None:
        utc_s, uncertainty_s = round(clock.utc_s(board_s), TIME_DIGITS), round(clock.uncertainty_s, TIME_DIGITS)
        times |= {"utc_s": utc_s, "utc_uncertainty_s": uncertainty_s}
    return times


def _cycle(cycle: Cycle, clock: BoardClock | None) -> Line:
    """A cycle that ended, under the time of its start; figures as numbers, what is missing of them beside them."""
    figures = cycle.figures
    line: Line = {"kind": "cycle", **_times(cycle.start_s, clock), "number": cycle.number, "begun": cycle.begun.value}
    line |= {"ended": cycle.ended, "hidden_s": cycle.hidden_s, "doubts": list(cycle.doubts)}
    line |= {"stalls": cycle.stalls, "reversals": cycle.reversals, "braked": cycle.braked}
    line |= {key: its.value for key, its in figures.items()}
    beside = {
        "reasons": {key: its.reason for key, its in figures.items() if its.reason},
        "bounds": {key: its.bound.value for key, its in figures.items() if its.bound.value},
        "u95": {key: its.half for key, its in figures.items() if its.half is not None},
    }
    return line | {name: its for name, its in beside.items() if its}


def _instant(instant: Instant, clock: BoardClock | None) -> Line:
    line: Line = {"kind": "readings", **_times(instant.board_s, clock), "interval_s": instant.interval_s}
    reasons: dict[Confidence, dict[str, str]] = {Confidence.DOUBTFUL: {}, Confidence.ABSENT: {}}
    for reading in instant.readings:
        confidence, value, reason = _value(reading)
        line[reading.id] = value
        if confidence in reasons:
            reasons[confidence][reading.id] = reason
    line |= {str(confidence): its for confidence, its in reasons.items() if its}
    if intervals := {each.id: _interval(each) for each in instant.readings if each.uncertainty is not None}:
        line["u95"] = intervals
    return line


def _interval(reading: Reading) -> object:
    """Half the width of the interval; of a list, of each value; both ends where a bound cuts it."""
    record = interval_record(reading)
    return [record["low95"], record["high95"]] if "low95" in record else record["u95"]


def _value(reading: Reading) -> tuple[Confidence, object, str]:
    value = reading.value
    numbers = value if isinstance(value, tuple) else (value,)
    if all(not isinstance(each, float) or isfinite(each) for each in numbers):
        return reading.confidence, value, reading.reason
    return Confidence.ABSENT, None, "our own fault: it came out as no number"


def _event(event: Event, clock: BoardClock | None) -> Line:
    line: Line = {"kind": "event", **_times(event.board_s, clock), "event": event.kind, "text": event.text}
    return line | {"detail": event.detail, "decisive": event.decisive}


def _damage(damage: DamageReport, clock: BoardClock | None) -> Line:
    line: Line = {"kind": "damage", **_times(damage.board_s, clock), "damage": damage.kind, "text": damage.text}
    return line | {"frames": damage.frames, "samples": damage.samples}


def _described(said: Description) -> Line:
    who = said.identity
    line: Line = {"kind": "described", "serial": who.serial, "model": who.model, "firmware": who.firmware}
    line |= {"source": str(who.source), "protocol": f"{who.major}.{who.minor}", "boot": who.boot, "plate": who.plate}
    line["channels"] = [
        {
            "index": each.index,
            "role": each.role.name.lower(),
            "name": each.name,
            "place": each.place,
            "unit": each.unit,
            "rate_hz": None if each.ticks_per_sample is None else float(who.tick_hz / each.ticks_per_sample),
        }
        for each in said.held_channels
    ]
    line["inputs"] = [{"index": each.index, "kind": each.kind.name.lower(), "name": each.name} for each in said.inputs]
    return line
