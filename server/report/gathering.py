"""Gathers what a report tells while a run is played: entries and what came of each in, a Report out. Pure.

Its size is bounded however long the run was.
"""

from collections import Counter, deque
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from server.calibration.text import parse_calibration
from server.config import ConfigError
from server.duty.cycle import Cycle
from server.duty.table import CycleTable
from server.motors import motor_type
from server.pipeline import Output, Pipeline
from server.quantities.bounds import bound_of
from server.readings import Confidence, Event, Reading
from server.report.duty import duty_part
from server.report.held import Held
from server.report.report import Damage, Happened, Report, Trend
from server.report.secrets import without_secrets
from server.report.states import States
from server.report.statistics import Statistics
from server.runs.account import Account
from server.runs.band import Band, Columns
from server.runs.damage import DamageByKind
from server.runs.drawn import COLUMNS_MAX, Drawn
from server.runs.ends import Ends
from server.runs.holes import Holes
from server.runs.layout import Entry, Kind
from server.verdict import Verdict

EVENTS_MAX = 400  # the first half and the newest; how many there were is told
TROUBLES_MAX = 20
CALIBRATIONS_MAX = 20
HELD_S = 15.0  # a state is told so late at most: what turned by itself, or did not, is known after 12 s
OTHERS_COLUMN_S = 0.5  # windows are 0.2 s apart; slow channels may leave columns empty
_ROWS = (("current", "A"), ("speed", "r/min"), ("voltage", "V"))
BOUNDED = {
    "current": "current_rms_a",
    "speed": "speed_rpm",
    "voltage": "voltage_rms_v",
}  # which reading says it of rows
OTHERS = (("active_power_w", "active power", "W"), ("temperature_c", "temperature", "°C"))  # drawn where there are any


@dataclass(slots=True)
class Gathered:
    """What came so far."""

    closed: str = ""
    settings: str = ""
    energy_j: float | None = None


@dataclass(frozen=True, slots=True)
class Named:
    """What neither a replay nor a log says of a report."""

    run: str
    rig: str
    note: str
    software: str
    made_utc_s: float


class Gathering:
    """Give it entries and outputs in turn; `report` makes the record."""

    def __init__(self) -> None:
        self._its = Gathered()
        self._events = Ends[Happened](EVENTS_MAX)
        self._counts: Counter[str] = Counter()  # by kind
        self._troubles: list[str] = []
        self._holes = Holes()
        self._calibrations: list[str] = []
        self._held = Held()
        self._verdicts: tuple[Verdict, ...] = ()
        self._states, self._statistics, self._damage = States(), Statistics(), DamageByKind()
        self._account, self._cycles = Account(), CycleTable()
        self._under_way: tuple[Cycle, float] | None = None
        self._waiting: deque[tuple[float, float, Sequence[Reading]]] = (
            deque()
        )  # readings whose state may yet be corrected
        self._bounds = dict.fromkeys(BOUNDED.values(), "")
        self._drawn, self._others = Drawn(), {key: Band(COLUMNS_MAX, OTHERS_COLUMN_S) for key, _, _ in OTHERS}

    def trouble(self, sentence: str) -> None:
        """Something of the run cannot be read."""
        self._account.unreadable()
        if len(self._troubles) < TROUBLES_MAX:
            self._troubles.append(sentence)

    def take(self, entry: Entry, output: Output | None, pipeline: Pipeline | None) -> None:
        """One entry, what came of it, and the pipeline that it went through."""
        self._account.take(entry)
        hole = self._holes.take(entry)
        if hole is not None:
            self._states.broken(hole[0])
            self._states.going_on(hole[1])
        if entry.kind is Kind.CLOSE:
            self._its.closed = entry.text
        elif entry.kind in (Kind.BEGIN, Kind.SETTINGS):
            self._its.settings = without_secrets(entry.text)
        elif entry.kind is Kind.CALIBRATION and len(self._calibrations) < CALIBRATIONS_MAX:
            self._calibrations.append(calibration_words(entry.text))
        for part in () if output is None else output.parts:
            self._take(part, pipeline)
        cycle = None if output is None or pipeline is None else pipeline.cycle_under_way()
        if pipeline is not None and output is not None:
            self._under_way = None if cycle is None else (cycle, pipeline.clock.utc_s(cycle.start_s))

    def _take(self, part: Output, pipeline: Pipeline | None) -> None:
        self._held.take(part, pipeline)
        self._damage.take(part.damage)
        for cycle in part.cycles:
            self._cycles.take(cycle, part.clock.utc_s(cycle.start_s))
        for event in part.events:
            self._tell(event, part)
        self._drawn.take(part)
        self._states.take(part)
        self._readings(part)
        if part.verdicts is not None:  # all that stand now: what was mended on the way heads no report
            self._verdicts = part.verdicts

    def _readings(self, part: Output) -> None:
        for instant in part.instants:
            utc_s = part.clock.utc_s(instant.board_s)
            self._waiting.append((utc_s, instant.interval_s, instant.readings))
            for reading in instant.readings:
                if not isinstance(reading.value, float):
                    continue
                if reading.id in self._bounds:
                    doubt = reading.reason if reading.confidence is Confidence.DOUBTFUL else ""
                    self._bounds[reading.id] = bound_of(reading.key, doubt)
                if reading.key in self._others and not (reading.place and reading.key == "active_power_w"):
                    self._others[reading.key].take(np.array([utc_s]), np.array([reading.value]))
                if reading.id == "active_power_w":
                    self._its.energy_j = (self._its.energy_j or 0.0) + reading.value * instant.interval_s

        self._count(HELD_S)

    def _count(self, held_s: float) -> None:
        """Readings of whole windows in which the motor ran, once that is sure."""
        while self._waiting and self._waiting[0][0] <= self._waiting[-1][0] - held_s:
            utc_s, interval_s, readings = self._waiting.popleft()
            if self._states.at(utc_s) == self._states.at(utc_s - interval_s) == "running":
                self._statistics.take(readings, utc_s)

    def _tell(self, event: Event, part: Output) -> None:
        utc_s = part.clock.utc_s(event.board_s)
        self._events.add(Happened(utc_s, event.kind, event.text, event.detail, event.decisive))
        self._counts[event.kind] += 1

    def report(self, named: Named) -> Report:
        """What there is."""
        its, held = self._its, self._held
        self._count(0.0)
        from_utc_s, to_utc_s = self._holes.from_utc_s or named.made_utc_s, self._holes.to_utc_s or named.made_utc_s
        kind = motor_type(held.motor.type) if held.motor.type else None
        return Report(
            run=named.run,
            rig=named.rig,
            note=named.note,
            software=named.software,
            made_utc_s=named.made_utc_s,
            from_utc_s=from_utc_s,
            to_utc_s=to_utc_s,
            closed=its.closed,
            motor=held.motor,
            type_label="" if kind is None else kind.label,
            far_line=() if kind is None else kind.far_line,
            board=held.board,
            channels=held.channels,
            calibrations=tuple(self._calibrations),
            settings=its.settings,
            spells=self._states.spells(to_utc_s),
            spent=self._states.spent(to_utc_s),
            statistics=self._statistics.found(kind),
            trends=trends_of(self._drawn.columns(), self._others, self._bounds),
            gaps=tuple(self._holes.found),
            events=tuple(sorted(self._events.kept, key=lambda each: each.utc_s)),
            events_count=self._events.count,
            counts=dict(self._counts),
            verdicts=self._verdicts,
            damage=tuple(Damage(**each) for each in self._damage.record()),
            account=tuple(self._account.record()),
            energy_j=its.energy_j,
            troubles=tuple(self._troubles),
            extras=(duty_part(self._cycles.record(self._under_way)),),
        )


def trends_of(rows: Mapping[str, Columns], others: Mapping[str, Band], bounds: Mapping[str, str]) -> tuple[Trend, ...]:
    """What is drawn of every motor, and what else is where there is any. `bounds`: signs of the newest readings."""
    drawn = [(rows.get(name), name, unit, name) for name, unit in _ROWS]
    drawn += [(others[key].columns(), label, unit, "other") for key, label, unit in OTHERS]
    return tuple(
        Trend(
            *(label, unit, kind, its.from_utc_s, its.column_s, its.mean, its.low, its.high),
            bound=bounds.get(BOUNDED.get(label, ""), ""),
        )
        for its, label, unit, kind in drawn
        if its is not None
    )


def calibration_words(text: str) -> str:
    """What a calibration of the run says, in a line."""
    try:
        its = parse_calibration(text, "calibration of the run")
    except ConfigError as error:
        return f"One cannot be read: {error}"
    said = [f"{each.what} of {each.channel.words}, {each.day}, against {each.reference}" for each in its.entries]
    return f"Board {its.serial}: {'; '.join(said) or 'none holds any more'}"
