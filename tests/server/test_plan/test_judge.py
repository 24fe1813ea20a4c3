"""Pass, fail or undecided: of runs made by hand, whose counts and extremes are known."""

import json
from dataclasses import replace
from typing import Any

import pytest

from server.duty import Bound, Cycle, Figure
from server.duty.cycle import Begun
from server.duty.table import CycleTable
from server.test_plan.counting import Ran
from server.test_plan.judge import Judgement, Outcome, judged
from server.test_plan.passed import Passed
from server.test_plan.plan import Ends, Most, Plan
from server.test_plan.told import judgement_record
from server.test_plan.warmth import POINTS_MAX, STEP_S
from tests.server.duty.test_factor import cycle

BEGIN_S, ON_S, OFF_S = 1_795_615_320.0, 60.0, 240.0
PLAN = Plan("cabin ventilator", goal_cycles=40)


def ran(count: int, number: int = 0, under_way: Cycle | None = None, missing_s: float = 0.0, **of: Any) -> Ran:
    """Run `number` of so many cycles; `of`: what its record says otherwise, and figures of its first cycle."""
    begin_s = BEGIN_S + 100_000.0 * number
    figures = {key: of.pop(key) for key in list(of) if isinstance(of[key], Figure)}
    table = CycleTable()
    for k in range(count):
        one = cycle(k + 1, ON_S, OFF_S)
        one.figures.update(dict.fromkeys(("starting_time_s", "steady_current_a"), Figure(0.5, 0.05)))
        if k == 0:
            one.figures.update(figures)
        table.take(replace(one, hidden_s=of.get("hidden_s", 0.0) if k == 0 else 0.0), begin_s + k * (ON_S + OFF_S))
    open_ = None if under_way is None else (under_way, begin_s + count * (ON_S + OFF_S))
    evidence = {
        "from_utc_s": begin_s,
        "to_utc_s": begin_s + count * (ON_S + OFF_S),
        "duty": table.record(open_),
        "extremes": {"running": {"current_rms_a": [0.4, begin_s + 5.0, 0.45, begin_s + 9.0]}, "any": {}},
        "temperatures": {},
        "events": {},
        "verdicts": {},
        **{key: value for key, value in of.items() if key != "hidden_s"},
    }
    return Ran(f"run-{number}", begin_s, begin_s + 90_000.0, evidence, missing_s=missing_s)


def of(plan: Plan, *runs: Ran) -> Judgement:
    found = judged(plan, runs)
    assert judgement_record(found)["outcome"] == found.outcome
    return found


def test_counts_are_carried_over_runs() -> None:
    found = of(PLAN, ran(10), ran(10, 1), ran(19, 2))
    assert (found.outcome, found.reasons) == (Outcome.UNDECIDED, ("39 of 40 cycles so far",))
    assert [each.number for each in found.counted.cycles] == list(range(1, 40))
    assert of(PLAN, ran(10), ran(30, 1)).outcome is Outcome.PASS


def test_hours_are_of_on_time() -> None:
    hours = Plan("x", goal_hours=1.0)
    assert of(hours, ran(59)).reasons == ("0.9833 h of 1 h so far",)
    assert of(hours, ran(59), ran(1, 1)).outcome is Outcome.PASS


def test_a_cycle_under_way_counts_as_a_start_and_as_far_as_it_has_come() -> None:
    open_ = cycle(1, 30.0, 0.0, ended=False)
    open_.figures["off_time_s"] = Figure(None, reason="it is still on")
    found = of(PLAN, ran(10, under_way=open_))
    assert (found.counted.starts, found.counted.on_s) == (11, 630.0)


def test_runs_before_the_test_do_not_count() -> None:
    found = of(replace(PLAN, begins=BEGIN_S + 11.0), ran(10), ran(10, 1))
    assert found.counted.starts == 10


@pytest.mark.parametrize(
    ("limits", "it", "text", "number"),
    [
        (
            {"cycles": (Ends("starting_time_s", None, 0.6),)},
            {"starting_time_s": Figure(0.7, 0.05)},
            "Starting time was at least 0.65 s, above 0.6 s in cycle 1 of run-0",
            1,
        ),
        (
            {"cycles": (Ends("steady_current_a", 0.3),)},
            {"steady_current_a": Figure(0.2, 0.05)},
            "Steady current was at most 0.25 A, below 0.3 A in cycle 1 of run-0",
            1,
        ),
        (
            {"cycles": (Ends("inrush_peak_a", None, 20.0),)},
            {"inrush_peak_a": Figure(27.0, None, "clipped", Bound.LEAST)},
            "Inrush, peak was at least 27 A, above 20 A in cycle 1 of run-0",
            1,
        ),
        (
            {"readings": (Ends("current_rms_a", None, 0.5, "running"),)},
            {"extremes": {"running": {"current_rms_a": [0.4, BEGIN_S, 0.6, BEGIN_S]}}},
            "Current, RMS rose to 0.6 A, above 0.5 A in run-0",
            None,
        ),
        (
            {"events": (Most("stalled", 1),)},
            {"events": {"stalled": [2, BEGIN_S, "Stalled"]}},
            "Stalled: 2 times, and 1 allowed in run-0",
            None,
        ),
        (
            {"verdicts": (Most("phase_open", 0),)},
            {"verdicts": {"phase_open": [1, BEGIN_S, "Phase U carries no current."]}},
            "Phase U carries no current: once, and 0 allowed in run-0",
            None,
        ),
    ],
)
def test_a_limit_that_was_passed_fails_with_where_and_when(
    limits: dict[str, Any], it: dict[str, Any], text: str, number: int | None
) -> None:
    found = of(replace(PLAN, **limits), ran(10, **it), ran(30, 1))
    assert (found.outcome, found.reasons[0]) == (Outcome.FAIL, text)
    assert (found.failures[0].run, found.failures[0].cycle) == ("run-0", number)


def test_what_is_within_its_uncertainty_of_a_limit_fails_nothing() -> None:
    plan = replace(PLAN, cycles=(Ends("starting_time_s", None, 0.6),))
    assert of(plan, ran(40, starting_time_s=Figure(0.64, 0.05))).outcome is Outcome.PASS


def test_events_are_counted_over_runs() -> None:
    plan = replace(PLAN, events=(Most("stalled", 2),))
    one: dict[str, Any] = {"events": {"stalled": [1, BEGIN_S, "Stalled"]}}
    assert of(plan, ran(20, **one), ran(20, 1, **one)).outcome is Outcome.PASS
    many: dict[str, Any] = {
        "events": {"stalled": [3, BEGIN_S, "Stalled"]},
        "moments": {"stalled": [BEGIN_S + k for k in range(3)]},
    }
    third = of(plan, ran(20, **one), ran(20, 1, **many), ran(1, 2, **one))
    assert (third.outcome, third.reasons) == (Outcome.FAIL, ("Stalled: 5 times, and 2 allowed in run-1",))
    assert (third.failures[0].run, third.failures[0].utc_s) == ("run-1", BEGIN_S + 1.0)  # the third of all
    assert third.other_reasons == ()
    assert of(plan, ran(1, **many)).failures[0].utc_s == BEGIN_S + 2.0
    few: dict[str, Any] = {**many, "moments": {"stalled": [BEGIN_S, BEGIN_S + 1.0]}}
    assert of(plan, ran(1, **few)).failures[0].utc_s == BEGIN_S + 1.0  # the last that is kept


def test_a_goal_that_is_reached_with_too_much_unknown_is_undecided() -> None:
    whole = 40 * (ON_S + OFF_S)
    assert of(PLAN, ran(40, missing_s=0.005 * whole)).outcome is Outcome.PASS
    found = of(PLAN, ran(40, missing_s=0.02 * whole))
    assert found.outcome is Outcome.UNDECIDED
    assert "without samples, 2 %: 1 % are allowed" in found.unknown[0]


def test_no_more_is_unknown_than_all_of_the_time() -> None:
    """What was kept of a run cannot be read: all that came before the service was started anew is missing."""
    found = of(PLAN, ran(1, missing_s=5000.0))
    assert (found.counted.unknown_s, found.counted.watched_s) == (5000.0, 5000.0)


def test_a_pass_is_not_taken_back_by_what_is_unknown_later() -> None:
    whole = 40 * (ON_S + OFF_S)
    passed = Passed(BEGIN_S + whole, frozenset(("run-0",)))
    unread = Ran("run-9", BEGIN_S + 9e5, None, None, "it was not summed up yet", waits=True)
    spoiled = Ran("run-0", BEGIN_S, BEGIN_S + whole, None, "it cannot be read")
    many = (ran(40, missing_s=0.4 * whole),), (ran(40), ran(5, 1, missing_s=0.4 * whole)), (ran(40), unread), (spoiled,)
    for runs in many:
        assert judged(PLAN, runs).outcome is Outcome.UNDECIDED
        found = judged(PLAN, runs, passed)
        assert (found.outcome, found.passed_utc_s) == (Outcome.PASS, passed.utc_s)
        assert found.unknown, "it is told all the same"
        assert found.reasons[0].endswith("what is unknown since changes nothing")


def test_a_pass_is_taken_back_by_a_failure_and_with_the_runs_it_rests_on() -> None:
    runs = ran(40), ran(5, 1, missing_s=5000.0, extremes={"running": {"current_rms_a": [0.4, 1.0, 0.7, 2.0]}})
    failing = replace(PLAN, readings=(Ends("current_rms_a", None, 0.6, "running"),))
    passed = Passed(runs[0].opened_utc_s + 40 * (ON_S + OFF_S), frozenset(("run-0",)))
    assert judged(failing, runs, passed).outcome is Outcome.FAIL
    later = judged(PLAN, (ran(40, 1, missing_s=5000.0),), passed)
    assert (later.outcome, later.passed_utc_s) == (Outcome.UNDECIDED, None), "the run that passed was deleted"


def test_it_is_said_that_nothing_counts_now() -> None:
    found = judged(PLAN, (ran(3),), uncounted="no samples come from the board")
    said = "no start and no on-time is counted now: no samples come from the board"
    assert found.reasons == ("3 of 40 cycles so far", said)


def test_a_limit_on_what_is_not_known_is_undecided() -> None:
    unknown = of(replace(PLAN, cycles=(Ends("coasting_time_s", None, 3.0),)), ran(40))
    assert unknown.outcome is Outcome.UNDECIDED
    assert unknown.unknown == ("coasting time has a limit and is not known of 40 of 40 cycles",)
    never = of(replace(PLAN, readings=(Ends("slip", None, 3.0, "any"),)), ran(40))
    assert never.outcome is Outcome.UNDECIDED
    assert "was never known well for a second" in never.unknown[0]


def test_a_figure_of_a_motor_that_never_rests_is_not_known_and_one_whose_start_nobody_saw_is_not_asked_for() -> None:
    limited = Plan("fan", goal_hours=0.01, cycles=(Ends("coasting_time_s", None, 3.0),))
    table = CycleTable()
    table.take(replace(cycle(1, 7200.0, 1.0), begun=Begun.BEFORE), BEGIN_S)
    never = of(limited, replace(ran(1), evidence={**(ran(1).evidence or {}), "duty": table.record()}))
    assert (never.outcome, never.unknown) == (Outcome.UNDECIDED, ("coasting time has a limit and was never known",))
    seen = replace(
        cycle(2, ON_S, OFF_S), figures={**cycle(2, ON_S, OFF_S).figures, "coasting_time_s": Figure(2.0, 0.1)}
    )
    table.take(seen, BEGIN_S + 7300.0)
    assert (
        of(limited, replace(ran(1), evidence={**(ran(1).evidence or {}), "duty": table.record()})).outcome
        is Outcome.PASS
    )


def test_a_run_that_cannot_be_read_yet_leaves_a_pass_undecided_but_no_failure() -> None:
    unread = Ran("run-9", BEGIN_S + 9e5, None, None, "it was not summed up yet")
    found = of(PLAN, ran(40), unread)
    assert (found.outcome, found.unknown) == (
        Outcome.UNDECIDED,
        ("the run run-9: it was not summed up yet",),
    )
    failing = replace(PLAN, readings=(Ends("current_rms_a", None, 0.4, "running"),))
    assert of(failing, ran(40), unread).outcome is Outcome.FAIL


def test_the_time_left_is_that_of_the_cycles_so_far() -> None:
    assert of(PLAN, ran(1)).ahead.by == "1 cycle"
    left = of(PLAN, ran(30)).ahead
    assert left.cycles == 10
    assert left.seconds == 10 * (ON_S + OFF_S)
    assert left.half == pytest.approx(0.0)  # all were alike
    hours = of(Plan("x", goal_hours=1.0), ran(30)).ahead
    assert hours.on_s == 1800.0
    assert hours.seconds == pytest.approx(30 * (ON_S + OFF_S))
    assert of(PLAN).ahead.seconds is None
    assert of(replace(PLAN, on_s=60.0, off_s=60.0)).ahead.seconds == 40 * 120.0
    assert of(PLAN, ran(40)).ahead.seconds == 0.0


def test_a_duty_that_is_not_the_expected_one_is_said_and_fails_nothing() -> None:
    found = of(replace(PLAN, on_s=30.0, off_s=240.0, duty_type="S4"), ran(40))
    assert found.outcome is Outcome.PASS
    assert "40 of 40 cycles were not on for 30 s as expected" in found.reasons
    assert "the duty is S3, and S4 is expected" in found.reasons


def test_what_a_long_run_does_not_keep_is_said() -> None:
    points = [[BEGIN_S + STEP_S * k, 20.0] for k in range(POINTS_MAX + 1)]
    plan = replace(PLAN, heat_run="temperature_c.winding")
    *_, cycles, temperature = of(plan, ran(1100, temperatures={"temperature_c.winding": points})).reasons
    assert cycles.startswith("100 of 1100 cycles are not kept: duration factor, starts per hour, ")
    assert temperature == "of run-0 the temperature is kept for 83 h, and no longer"
    assert not any("kept" in each for each in of(PLAN, ran(900)).reasons)


def test_a_heat_run_ends_in_equilibrium() -> None:
    plan = Plan("x", heat_run="temperature_c.winding")
    level: dict[str, Any] = {
        "temperatures": {"temperature_c.winding": [[BEGIN_S + 300.0 * k, 60.0] for k in range(20)]}
    }
    found = of(plan, ran(30, **level))
    assert found.outcome is Outcome.PASS
    assert found.equilibrium is not None
    assert found.equilibrium.at_c == 60.0
    rising: dict[str, Any] = {
        "temperatures": {"temperature_c.winding": [[BEGIN_S + 300.0 * k, 60.0 + k] for k in range(20)]}
    }
    assert of(plan, ran(30, **rising)).reasons[0].startswith("no thermal equilibrium yet: it changed by +6.0 K")


def test_the_record_is_ready_for_json() -> None:
    plan = replace(PLAN, readings=(Ends("current_rms_a", None, 0.4, "running"),))
    told = json.dumps(judgement_record(of(plan, ran(40))), allow_nan=False)
    assert '"outcome": "fail"' in told
