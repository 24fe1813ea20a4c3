"""What a stretch of time came to, from logs: holes and spells over several runs, sums without holes."""

import json
from collections.abc import Iterable, Iterator
from dataclasses import asdict, replace
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.readings import Event, Fast, Instant, Reading, StateChange
from server.report import logged as module
from server.report.holes import Hole, between, end_of, ends_of, gone_of
from server.report.logged import NEAR_S, logged, spells_of, sum_over
from server.runs.library import Library, RunSummary
from server.runs.log.columns import grid_of
from server.runs.log.reading import Part
from server.runs.log.scribe import Scribe
from server.runs.log.store import LOG, Store
from server.runs.log.tables import TableReader
from server.runs.log.taken import Said, Taken
from server.stream.clock import Clock
from server.verdict import verdict_of
from tests.journeys.made_night import BACK_S, LEAF_S, OUT_S, WEAR, made_night
from tests.server.report.reports import NIGHT
from tests.server.report.reports import WEAR as OTHER_WEAR

NOW_UTC_S = 1_795_700_000.0


@pytest.fixture(scope="module")
def night(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, list[RunSummary]]:
    data = tmp_path_factory.mktemp("night") / "data"
    made_night(data, "heron-2", NOW_UTC_S, step_s=240.0)
    library = Library(data / "runs")
    runs = library.runs()
    library.close()
    return data / "runs", runs


def test_a_night_is_told_from_its_log_alone(night: tuple[Path, list[RunSummary]]) -> None:
    folder, runs = night
    its = logged(folder, runs, None, NOW_UTC_S)
    (hole,) = its.holes
    begun_utc_s = NOW_UTC_S - 12 * 3600
    assert hole.reason == "cable out"
    assert hole.from_utc_s - begun_utc_s == pytest.approx(OUT_S, abs=240.0)
    assert hole.to_utc_s - begun_utc_s == pytest.approx(BACK_S, abs=240.0)
    assert [each.state for each in its.spells] == ["running", "not recorded", "running"]
    assert its.verdicts == (WEAR,)
    assert its.counts == {"running": 1}
    assert its.alarms is not None
    assert its.alarms[0].at_utc_s == begun_utc_s + LEAF_S
    assert its.troubles == ()


def test_a_span_that_begins_before_the_run_and_ends_after_it_says_what_was_not_recorded(
    night: tuple[Path, list[RunSummary]],
) -> None:
    folder, runs = night
    its = logged(folder, runs, (NOW_UTC_S - 14 * 3600, NOW_UTC_S + 3600), NOW_UTC_S + 2400)
    assert [each.reason for each in its.holes] == ["no run was recorded", "cable out", "run closed: ended by a person"]
    assert its.to_utc_s == NOW_UTC_S + 2400  # what lies ahead is not missing
    assert its.sums_short


def test_a_span_without_any_run_is_one_hole_or_nothing(tmp_path: Path) -> None:
    its = logged(tmp_path, [], (1000.0, 2000.0), 3000.0)
    assert [(each.from_utc_s, each.to_utc_s) for each in its.holes] == [(1000.0, 2000.0)]
    assert (its.energy_j, its.charge_c, its.alarms) == (None, None, None)
    assert logged(tmp_path, [], None, 3000.0).length_s == 0.0


def test_a_log_in_which_anything_may_stand_is_told_as_trouble(
    night: tuple[Path, list[RunSummary]], tmp_path: Path
) -> None:
    folder, runs = night
    broken = tmp_path / runs[0].name
    broken.mkdir()
    (broken / LOG).write_bytes((folder / runs[0].name / LOG).read_bytes().replace(b'"certainty"', b'"certaintx"'))
    its = logged(tmp_path, runs, None, NOW_UTC_S)
    assert its.verdicts == ()
    assert len(its.troubles) == 1


def recorded(folder: Path, said: Iterable[tuple[Instant, StateChange, tuple[Event, ...]]]) -> RunSummary:
    """The log of an open run, made of windows that each tell a state and events."""
    run, begun_s = folder / "20261125-1402-heron-2", 1_795_600_000.0
    run.mkdir(parents=True)
    store, clock = Store(run / LOG), Clock(1e6, low_s=begun_s, high_s=begun_s)
    scribe, none = Scribe(store), np.zeros(1)
    for k, (instant, change, events) in enumerate(said):
        rows = Fast(none, none, none, none, (change,))
        scribe.take(Taken(None, (Said((instant,), (rows,), events, None, clock),), ""))
        if k % 500 == 0:
            scribe.write()
    scribe.end()
    store.close()
    return RunSummary(run.name, "heron-2", "", begun_s)


def window(at_s: float, interval_s: float) -> Instant:
    return Instant(round(at_s), round(at_s) + 1, at_s, interval_s, (Reading("run_state", "running"),))


def cycling(folder: Path) -> RunSummary:
    """A board that is heard once a second for 6000 s but hangs from 3000 s to 3600 s; its motor runs for a second and
    rests for one, and stalls every tenth second. The stall with which it begins is dated before its first reading."""

    def said() -> Iterator[tuple[Instant, StateChange, tuple[Event, ...]]]:
        for k in (*range(3000), *range(3600, 6000)):
            events = (Event("stalled", float(k) or -0.5, "Stalled"),) * (k % 10 == 0)
            yield window(float(k), 1.0), StateChange(float(k), float(k), ("running", "resting")[k % 2]), events

    run = recorded(folder, said())
    return replace(run, closed_utc_s=run.opened_utc_s + 6000.0)


def test_silence_is_a_hole_and_a_motor_that_cycles_is_told_whole(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    run = cycling(tmp_path)
    its = logged(tmp_path, [run], None, NOW_UTC_S)
    at = run.opened_utc_s
    assert its.holes == (Hole(at + 2999.0, at + 3600.0, "nothing came"),)
    seconds = {state: seconds for state, (_, seconds) in its.spent.items()}
    assert seconds == {
        "not recorded": pytest.approx(601.0),
        "running": pytest.approx(2700.0, abs=1.5),
        "resting": pytest.approx(2699.0, abs=1.5),
    }
    assert (its.counts, len(its.events), its.troubles) == ({"stalled": 540}, 100, ())
    with TableReader(tmp_path / run.name) as log:
        assert log.counts() == its.counts
    monkeypatch.setattr(module, "STATES_READ_MAX", 1000)
    cut = logged(tmp_path, [run], None, NOW_UTC_S)
    assert cut.spells[-1].state == "unknown"
    assert cut.spent["running"][1] == pytest.approx(500.0, abs=1.5)
    assert cut.troubles == (f"{run.name}: of the run state 1000 changes are read, and no more",)


def test_between_two_runs_stands_why_the_first_one_closed() -> None:
    runs = [RunSummary("a", "rig", "", 100.0, 200.0, "10 min of rest"), RunSummary("b", "rig", "", 300.0)]
    parts = [Part("a", (100.0, 200.0)), Part("b", (300.0, 395.0))]
    assert between(parts, runs, (100.0, 400.0), 400.0) == [Hole(200.0, 300.0, "run closed: 10 min of rest")]
    assert between(parts, runs, (100.0, 450.0), 450.0)[-1] == Hole(395.0, 450.0, "no samples")


def test_what_does_not_come_of_a_run_that_goes_on_is_a_hole_so_far(tmp_path: Path) -> None:
    run = replace(cycling(tmp_path), closed_utc_s=None)
    last_utc_s = run.opened_utc_s + 5999.0
    left = logged(tmp_path, [run], None, NOW_UTC_S)
    assert (left.to_utc_s, left.gone) == (last_utc_s, None)
    its = logged(tmp_path, [run], None, last_utc_s + 60.0, goes_on=True)
    assert its.gone == its.holes[-1] == Hole(last_utc_s, last_utc_s + 60.0, "no samples")
    assert its.spent["not recorded"][1] == pytest.approx(601.0 + 60.0)
    past = logged(tmp_path, [run], (run.opened_utc_s, run.opened_utc_s + 3300.0), last_utc_s, goes_on=True)
    assert (past.holes[-1].to_utc_s, past.gone) == (run.opened_utc_s + 3300.0, None)  # it came again later
    soon = logged(tmp_path, [run], None, last_utc_s + 5.0, goes_on=True)
    assert (soon.gone, soon.to_utc_s) == (None, last_utc_s + 5.0)  # its log is behind
    kinds = [each.utc_s for each in its.events if each.kind == "stalled"]
    assert (len(kinds), max(kinds)) == (100, run.opened_utc_s + 5990.0)  # of 540 the first and the newest


def test_what_comes_seldom_has_not_stopped(tmp_path: Path) -> None:
    """16 samples are a window: of one a second there is one each 16 s."""
    run = recorded(tmp_path, [(window(16.0 * k, 16.0), StateChange(0.0, 0.0, "running"), ()) for k in range(1, 9)])
    last_utc_s = run.opened_utc_s + 128.0
    found = [logged(tmp_path, [run], None, last_utc_s + late_s, goes_on=True).gone for late_s in (12.0, 31.0, 33.0)]
    assert found == [None, None, Hole(last_utc_s, last_utc_s + 33.0, "no samples")]


def test_a_run_goes_up_to_the_last_thing_that_is_known_of_it() -> None:
    run, alarm = RunSummary("a", "rig", "", 100.0), replace(NIGHT.alarms[0], at_utc_s=230.0)  # type: ignore[index]  # it has three
    assert [end_of(run, 200.0, mark, []) for mark in (0.0, 200.2, 300.0)] == [200.0, 200.2, 300.0]
    assert end_of(run, 200.0, 200.2, [alarm]) == 230.0
    closed = replace(run, closed_utc_s=240.0, reason="ended by a person")
    assert [end_of(closed, 200.0, *known) for known in ((0.0, []), (200.2, []), (0.0, [alarm]))] == [
        200.0,
        240.0,
        240.0,
    ]
    assert end_of(closed, 200.0, 0.0, [replace(alarm, at_utc_s=301.0)]) == 200.0  # too late to be of it
    next_one, parts = RunSummary("b", "rig", "", 320.0), [Part("a", (100.0, 200.0)), Part("b", (320.0, 395.0))]
    assert ends_of(parts, [closed, next_one], 400.0) == [240.0, 400.0]
    assert ends_of(parts, [run, next_one], 400.0) == [320.0, 400.0]
    ends = [Hole(0.0, 9.0, reason) for reason in ("cable out", "run closed: ended by a person", "no run was recorded")]
    assert [gone_of([each], 9.0) for each in ends] == [ends[0], None, None]  # then nothing was to come
    told = {"a": 240.0}  # a cable was out up to its end
    assert between(parts, [closed, next_one], (100.0, 400.0), 400.0, told)[0].from_utc_s == 240.0


_MOMENTS = st.floats(0.0, 1000.0)
_STATES = st.sampled_from(["running", "resting", "stalled"])


@given(st.lists(st.tuples(_MOMENTS, _STATES), max_size=20), st.lists(_MOMENTS, max_size=8, unique=True).map(sorted))
def test_spells_fill_the_span_from_end_to_end_whatever_was_told(
    changes: list[tuple[float, str]], ends: list[float]
) -> None:
    holes = [Hole(low, high, "") for low, high in zip(ends[::2], ends[1::2], strict=False)]
    spells = spells_of(changes, holes, (0.0, 1000.0))
    assert [each.from_utc_s for each in spells[1:]] == [each.to_utc_s for each in spells[:-1]]
    assert (spells[0].from_utc_s, spells[-1].to_utc_s) == (0.0, 1000.0)
    assert all(one.state != other.state for one, other in pairwise(spells))
    missing = sum(each.to_utc_s - each.from_utc_s for each in spells if each.state == "not recorded")
    assert missing == pytest.approx(sum(hole.to_utc_s - hole.from_utc_s for hole in holes))


def test_a_sum_leaves_out_holes_and_says_for_how_long_nothing_is_known() -> None:
    grid = grid_of(0.0, 128.0, 128)
    mean = np.full(grid.columns, 2.0, np.float32)
    assert sum_over(grid, mean, [], (0.0, 100.0)) == (200.0, 0.0)
    assert sum_over(grid, mean, [Hole(10.0, 30.0, "")], (0.0, 100.0)) == (160.0, 0.0)
    mean[20:] = np.nan
    value, missing_s = sum_over(grid, mean, [], (0.0, 100.0))
    assert missing_s == pytest.approx(100.0 - 20.0 - NEAR_S, abs=grid.column_s)
    assert value == pytest.approx(2.0 * (100.0 - missing_s))


@pytest.mark.parametrize("verdict", [WEAR, OTHER_WEAR])
def test_a_verdict_of_the_log_is_what_it_was(verdict: object) -> None:
    assert verdict_of(json.loads(json.dumps(asdict(verdict)))) == verdict  # type: ignore[call-overload]  # a dataclass
