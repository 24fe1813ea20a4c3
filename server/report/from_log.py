"""Gathers what a report tells from the log of a run and from the run in short: nothing is played for it.

Readings, states, events and verdicts are those of the log, so they are there of samples that were thinned away too;
account, holes, damage and duty are those that were found when the run was played once, after it had closed.
"""

from collections.abc import Sequence
from math import inf
from pathlib import Path
from typing import Any

import numpy as np

from server.export.logged import OWN_FAULT
from server.motors import MotorType, Supply, motor_type
from server.quantities.bounds import bound_of
from server.report.duty import duty_part
from server.report.gathering import (
    BOUNDED,
    CALIBRATIONS_MAX,
    EVENTS_MAX,
    OTHERS,
    OTHERS_COLUMN_S,
    Named,
    calibration_words,
    trends_of,
)
from server.report.held import Held
from server.report.report import Damage, Happened, Report
from server.report.secrets import without_secrets
from server.report.states import States
from server.report.statistics import Statistics
from server.runs.band import Band, Columns
from server.runs.course import Course
from server.runs.digest import CHANGES_MAX
from server.runs.drawn import COLUMNS_MAX, columns_of
from server.runs.layout import Entry, Kind
from server.runs.log import columns as summaries
from server.runs.log.columns import grid_of
from server.runs.log.reading import LogError
from server.runs.log.table import Floats, Table
from server.runs.log.tables import TableReader
from server.runs.thinned_run import thinned_stretches
from server.verdict import Verdict, verdict_of

ROWS_MAX = 40_000  # of a table: an hour of five a second, and as many again of slow channels
EVER = (0.0, 1e12)
POWER = "active_power_w"
_KEYS = {  # of the main channels; of direct current the means come first
    "current": ("current_rms_a", "current_mean_a"),
    "speed": ("speed_rpm",),
    "voltage": ("voltage_rms_v", "voltage_mean_v"),
}


def told_by_log(run: Path, digest: dict[str, Any], named: Named, is_thinned: bool) -> Report:
    """The report; `digest`: the run in short; `is_thinned`: samples were given up, so rows are drawn by summaries.

    Raises LogError where a log cannot be read, and where more of the run changed than the run in short keeps; OSError.
    """
    if max(len(digest[name]) for name in ("settings", "described", "calibrations")) >= CHANGES_MAX:
        raise LogError("settings or descriptions changed more often than is kept in short")
    held = _held(named.rig, digest)
    kind = motor_type(held.motor.type) if held.motor.type else None
    from_utc_s = digest["from_utc_s"] or named.made_utc_s
    to_utc_s = digest["to_utc_s"] or named.made_utc_s
    with TableReader(run) as log:
        gaps = _gaps(run, log, digest)
        states = states_of(log.state_changes(), gaps)
        sums = _Sums(states)
        for table in log.tables(*EVER, ROWS_MAX, OWN_FAULT):
            sums.take(table)
        counts, events = log.ends_of_events(EVENTS_MAX // 2)
        verdicts = _verdicts(log)
        rows = _summaries(log, kind, (from_utc_s, to_utc_s)) if is_thinned else columns_of(digest["drawn"])
    calibrations = [calibration_words(text) for _, text in digest["calibrations"][:CALIBRATIONS_MAX]]
    return Report(
        run=named.run,
        rig=named.rig,
        note=named.note,
        software=named.software,
        made_utc_s=named.made_utc_s,
        from_utc_s=from_utc_s,
        to_utc_s=to_utc_s,
        closed=digest["reason"],
        motor=held.motor,
        type_label="" if kind is None else kind.label,
        far_line=() if kind is None else kind.far_line,
        board=held.board,
        channels=held.channels,
        calibrations=tuple(calibrations),
        settings=without_secrets(digest["settings"][-1][1]) if digest["settings"] else "",
        spells=states.spells(to_utc_s),
        spent=states.spent(to_utc_s),
        statistics=sums.statistics.found(kind),
        trends=trends_of(rows, sums.others, sums.bounds),
        gaps=tuple(gaps),
        events=tuple(sorted(map(_happened, events), key=lambda each: each.utc_s)),
        events_count=sum(counts.values()),
        counts=counts,
        verdicts=verdicts,
        damage=tuple(Damage(**each) for each in digest.get("damage", ())),
        account=tuple(digest["account"]),
        energy_j=sums.energy_j,
        troubles=tuple(digest["troubles"]),
        extras=(duty_part(digest["evidence"]["duty"]),),
        by_summaries=is_thinned,
    )


def _held(rig: str, digest: dict[str, Any]) -> Held:
    """Motor, board and channels as they held at the end: a pipeline is told what the run's own was told last."""
    course, held = Course(rig), Held()
    entries = [Entry(Kind.BEGIN, utc_s, text.encode()) for utc_s, text in digest["settings"][-1:]]
    entries += [Entry(Kind.CALIBRATION, utc_s, text.encode()) for utc_s, text in digest["calibrations"][-1:]]
    entries += [Entry(Kind.KEPT, utc_s, bytes.fromhex(frames)) for utc_s, frames in digest["described"][-1:]]
    for entry in entries:
        output = course.perform(entry)
        for part in () if output is None else output.parts:
            held.take(part, course.pipeline)
    return held


def _gaps(run: Path, log: TableReader, digest: dict[str, Any]) -> list[tuple[float, float]]:
    """Where nothing was recorded. What was thinned away since is none: readings of it are there."""
    gaps = [(float(since), float(until)) for since, until in digest["gaps"]]
    thinned = [(each.from_utc_s, each.to_utc_s) for each in thinned_stretches(run)]
    if not thinned:
        return gaps

    def holds(since: float, until: float) -> bool:
        return any(low < until and up > since for low, up in thinned)

    of_log = [(since, until) for since, until, _ in log.gaps(*EVER) if until is not None]
    kept = [gap for gap in gaps if not holds(*gap)] + [gap for gap in of_log if holds(*gap)]
    return sorted(kept)


def states_of(changes: Sequence[tuple[float, float, str]], gaps: Sequence[tuple[float, float]]) -> States:
    """As they were told, one after another, with gaps in their place. `changes`: from when, told when, which state."""
    states, waiting = States(), list(gaps)
    for utc_s, told_utc_s, state in changes:
        while waiting and waiting[0][0] < told_utc_s:
            _break(states, waiting.pop(0))
        states.add(utc_s, state)
    for gap in waiting:
        _break(states, gap)
    return states


def _break(states: States, gap: tuple[float, float]) -> None:
    states.broken(gap[0])
    states.going_on(gap[1])


class _Sums:
    """Of all readings, table by table."""

    def __init__(self, states: States) -> None:
        self._states, self.statistics = states, Statistics()
        self.energy_j: float | None = None
        self.bounds = dict.fromkeys(BOUNDED.values(), "")
        self.others = {key: Band(COLUMNS_MAX, OTHERS_COLUMN_S) for key, _, _ in OTHERS}

    def take(self, table: Table) -> None:
        ran = self._states.are(table.utc_s, "running") & self._states.are(table.utc_s - table.interval_s, "running")
        others: dict[str, list[tuple[Floats, Floats]]] = {}
        for key, its in table.cells.items():
            if its.kind != "number":
                continue
            self.statistics.take_cells(key, its, table.utc_s, ran)
            name, _, place = key.partition(".")
            known = np.isfinite(its.values)
            if key in self.bounds and known.any():
                newest = int(np.flatnonzero(known)[-1])
                self.bounds[key] = bound_of(key, table.reasons[its.reason[newest]])
            if name in self.others and known.any() and not (place and name == POWER):
                others.setdefault(name, []).append((table.utc_s[known], its.values[known]))
            if key == POWER and known.any():  # one behind the other, as a replay adds them
                joules = its.values[known] * table.interval_s[known]
                self.energy_j = float(np.cumsum([self.energy_j or 0.0, *joules])[-1])
        for name, parts in others.items():
            utc_s, values = (np.concatenate(each) for each in zip(*parts, strict=True))
            in_order = np.argsort(utc_s, kind="stable")
            self.others[name].take(utc_s[in_order], values[in_order])


def _summaries(log: TableReader, kind: MotorType | None, span: tuple[float, float]) -> dict[str, Columns]:
    """Current, speed and voltage by the summaries: lowest and highest of rows of 10 ms, or of an RMS over a cycle;
    without their signs, as rows are."""
    of_dc = kind is not None and kind.supply is not Supply.ALTERNATING
    keys = {name: pair[::-1] if of_dc else pair for name, pair in _KEYS.items()}
    made = summaries.Columns(grid_of(*span, COLUMNS_MAX // 2), [key for pair in keys.values() for key in pair])
    log.fill(made)
    bands, found = made.bands(), dict[str, Columns]()
    for name, pair in keys.items():
        its = next((bands[key] for key in pair if np.isfinite(bands[key].mean).any()), None)
        if its is not None:
            low, high, mean = (np.asarray(each, np.float64) for each in (its.low, its.high, its.mean))
            lowest = np.where((low < 0.0) & (high > 0.0), 0.0, np.fmin(np.abs(low), np.abs(high)))
            ends = lowest, np.fmax(np.abs(low), np.abs(high)), np.abs(mean)
            found[name] = Columns(made.grid.from_utc_s, made.grid.column_s, *ends)
    return found


def _happened(row: dict[str, Any]) -> Happened:
    said = row["record"]
    return Happened(row["utc_s"], said["kind"], said["text"], said["detail"], bool(said["decisive"]))


def _verdicts(log: TableReader) -> tuple[Verdict, ...]:
    """Those that were held at the end."""
    return tuple(verdict_of(record) for row in log.told("verdicts", 0.0, inf)[-1:] for record in row["record"])
