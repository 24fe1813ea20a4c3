"""Pass, fail or undecided, with the evidence. Pure: a plan and what its runs have to say in, a judgement out."""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

from server.duty.cycle import Cycle
from server.duty.drift import Drift, drift_of
from server.duty.equilibrium import Equilibrium, equilibrium_of
from server.duty.factor import Usage, usage_of
from server.duty.types import DutyType, duty_type_of
from server.test_plan.ahead import Ahead, ahead_of
from server.test_plan.counting import Counted, Ran, counted, counts, spans_on, temperatures
from server.test_plan.limits import Failure, failures, unknowns
from server.test_plan.passed import Passed
from server.test_plan.plan import Plan
from server.test_plan.warmth import POINTS_MAX, STEP_S

FAILURES_MAX = 100  # that are told; how many there were is said
_DRIFTS = (
    "starting_time_s",
    "inrush_half_cycle_a",
    "steady_current_a",
    "steady_speed_rpm",
    "coasting_time_s",
    "energy_wh",
)
_OFF_DUTY_SHARE = 0.1  # of the cycles may differ from the duty that is expected


class Outcome(StrEnum):
    """What can be said now."""

    PASS = "pass"
    FAIL = "fail"
    UNDECIDED = "undecided"


@dataclass(frozen=True, slots=True)
class Judgement:
    """`reasons`: what the outcome rests on, in sentences. `unknown`: what nobody can say. `failures`: the first ones;
    there were `failures_count`. `drifts` by the key of a figure, of those that have enough cycles. `waits`: a run of it
    is not read yet, and will be; `are_reached`: its goals. `passed_utc_s`: when it had passed, where that was kept.
    `runs`: those that belong to it."""

    outcome: Outcome
    reasons: tuple[str, ...]
    unknown: tuple[str, ...]
    failures: tuple[Failure, ...]
    failures_count: int
    counted: Counted
    ahead: Ahead
    usage: Usage
    duty_type: DutyType
    equilibrium: Equilibrium | None
    drifts: dict[str, Drift]
    waits: bool
    are_reached: bool
    passed_utc_s: float | None
    runs: tuple[str, ...]

    @property
    def other_reasons(self) -> tuple[str, ...]:
        """Without that which the first of the failures says too."""
        return self.reasons[1:] if self.failures else self.reasons


def judged(plan: Plan, runs: Sequence[Ran], passed: Passed | None = None, uncounted: str = "") -> Judgement:
    """The judgement of the runs that belong to the test: those of its rig that opened since it begins.

    `passed`: a test of this plan had passed; nothing is said of it where one of its runs is there no more.
    `uncounted`: why nothing counts now, or empty: who has begun a test learns it at once.
    """
    its = sorted((run for run in runs if counts(plan, run.opened_utc_s)), key=lambda run: run.opened_utc_s)
    sums = counted(its)
    failed = failures(plan, its)
    points = temperatures(its, plan.heat_run) if plan.heat_run else []
    settled = equilibrium_of(points, spans_on(sums.cycles)) if plan.heat_run else None
    unknown = (*_unknown_time(plan, sums), *unknowns(plan, its))
    open_goals = _open_goals(plan, sums, settled)
    passed_utc_s = passed.utc_s if passed is not None and passed.runs <= {run.name for run in its} else None
    outcome, reasons = _outcome(plan, sums, failed, open_goals, unknown, passed_utc_s is not None)
    usage = usage_of(sums.cycles)
    ambient = temperatures(its, plan.ambient) if plan.ambient else []
    ambient_c = ambient[-1][1] if ambient else plan.ambient_c
    shown = duty_type_of(sums.cycles, settled or Equilibrium(None, "no temperature is watched"), points, ambient_c)
    said = (*reasons, *_off_duty(plan, sums.cycles, shown), *_not_kept(plan, its, sums))
    said += (f"no start and no on-time is counted now: {uncounted}",) if uncounted else ()
    return Judgement(
        outcome, said, unknown, tuple(failed[:FAILURES_MAX]), len(failed),
        sums, ahead_of(plan, sums.starts, sums.on_s, sums.cycles), usage, shown, settled, drifts_of(sums.cycles),
        any(run.waits for run in its), not open_goals, passed_utc_s, tuple(run.name for run in its),
    )  # fmt: skip


def _open_goals(plan: Plan, sums: Counted, settled: Equilibrium | None) -> list[str]:
    """Goals that are not reached yet, each as a sentence."""
    told = []
    if plan.goal_cycles is not None and sums.starts < plan.goal_cycles:
        told.append(f"{sums.starts} of {plan.goal_cycles} cycles so far")
    if plan.goal_hours is not None and sums.on_s < 3600.0 * plan.goal_hours:
        told.append(f"{sums.on_s / 3600.0:.4g} h of {plan.goal_hours:g} h so far")
    if settled is not None and settled.since_s is None:
        told.append(f"no thermal equilibrium yet: {settled.missing}")
    return told


def _outcome(
    plan: Plan,
    sums: Counted,
    failed: Sequence[Failure],
    open_goals: list[str],
    unknown: Sequence[str],
    has_passed: bool,
) -> tuple[Outcome, list[str]]:
    """A failure is one whatever else is unknown; a pass needs all goals, and that next to nothing was unknown once."""
    if failed:
        more = f", and {len(failed) - 1} more" if len(failed) > 1 else ""
        where = f" in cycle {failed[0].cycle} of {failed[0].run}" if failed[0].cycle else f" in {failed[0].run}"
        return Outcome.FAIL, [f"{failed[0].text}{where}{more}"]
    if has_passed and (open_goals or unknown):
        return Outcome.PASS, ["its goals were reached and no limit was passed; what is unknown since changes nothing"]
    if open_goals:
        return Outcome.UNDECIDED, open_goals
    if unknown:
        return Outcome.UNDECIDED, ["its goals are reached and no limit was passed where it was watched", *unknown]
    share = 100.0 * sums.unknown_s / sums.watched_s if sums.watched_s else 0.0
    said = f"; {share:.2g} % of the time is unknown, {plan.unknown_percent:g} % are allowed" if share else ""
    return Outcome.PASS, [f"its goals are reached and no limit was passed{said}"]


def _unknown_time(plan: Plan, sums: Counted) -> list[str]:
    told = [f"the run {each}" for each in sums.unread]
    share = 100.0 * sums.unknown_s / sums.watched_s if sums.watched_s else 0.0
    if share > plan.unknown_percent:
        seconds = f"{sums.unknown_s:.0f} s of {sums.watched_s:.0f} s"
        told.append(f"{seconds} are without samples, {share:.2g} %: {plan.unknown_percent:g} % are allowed")
    return told


def _off_duty(plan: Plan, cycles: Sequence[Cycle], shown: DutyType) -> list[str]:
    """Where the motor was not used as the plan expects. That fails nothing: it is no test of the motor."""
    told = []
    if plan.duty_type and shown.name and shown.name != plan.duty_type:
        told.append(f"the duty is {shown.name}, and {plan.duty_type} is expected")
    for key, words, expected in (("on_time_s", "on", plan.on_s), ("off_time_s", "off", plan.off_s)):
        if expected is None:
            continue
        values = [value for each in cycles if each.ended and (value := each.value(key)) is not None]
        off = [each for each in values if abs(each - expected) > plan.tolerance_percent / 100.0 * expected]
        if values and len(off) > _OFF_DUTY_SHARE * len(values):
            told.append(f"{len(off)} of {len(values)} cycles were not {words} for {expected:g} s as expected")
    return told


def _not_kept(plan: Plan, runs: Sequence[Ran], sums: Counted) -> list[str]:
    """What was seen and is not in the evidence, as a long run keeps so much and no more."""
    told = []
    if sums.left_out:
        of_which = f"{sums.left_out} of {sums.left_out + len(sums.cycles)} cycles are not kept"
        told.append(f"{of_which}: duration factor, starts per hour, drift and duty type leave them out")
    for run in runs if plan.heat_run else ():
        points = [] if run.evidence is None else run.evidence["temperatures"].get(plan.heat_run, [])
        if len(points) > POINTS_MAX:
            told.append(
                f"of {run.name} the temperature is kept for {POINTS_MAX * STEP_S / 3600.0:.0f} h, and no longer"
            )
    return told


def drifts_of(cycles: Sequence[Cycle]) -> dict[str, Drift]:
    """By the key of a figure, of those that are known of enough cycles."""
    found = {}
    for key in _DRIFTS:
        known = [(each.number, value) for each in cycles if (value := each.value(key)) is not None]
        drift = drift_of([number for number, _ in known], [value for _, value in known])
        if drift is not None:
            found[key] = drift
    return found
