"""The test plan of a rig in a report: what it comes to over all its runs so far. Words are pure; `plan_of` reads."""

from pathlib import Path

from server.config import ConfigError
from server.report.duty import figure_words
from server.report.report import TEST_PLAN, Extra
from server.report.words import Times, length, number
from server.runs.beside import SO_FAR, read_json, read_so_far
from server.runs.library import RunSummary, summary_of
from server.settings.file import settings_text
from server.test_plan.counting import MANY_RUNS, RUNS_MAX, Ran, counts
from server.test_plan.judge import Judgement, Outcome, judged
from server.test_plan.passed import passed_file, passed_of
from server.test_plan.plan import Plan
from server.test_plan.text import parse_plan

FAILURES_SHOWN, UNKNOWN_SHOWN = 20, 10
_SAID = {
    Outcome.PASS: "passed",
    Outcome.FAIL: "failed",
    Outcome.UNDECIDED: "undecided",
}


def plan_of(run: Path, rig: str, times: Times) -> Extra | None:
    """Judged by all runs of the rig that lie beside this one and were summed up; None where the rig has no plan."""
    file = run.absolute().parent.parent / "plans" / f"{rig}.toml"
    if file.is_symlink() or not file.is_file():
        return None
    try:
        plan = parse_plan(settings_text(file), str(file)).plan
    except ConfigError as error:
        return Extra(TEST_PLAN, f"The plan cannot be used: {error}")
    if plan.begins is not None and not counts(plan, summary_of(run).opened_utc_s):
        said = f"This run is none of the test of {_specimen(plan)}: it counts runs since {times.whole(plan.begins)}."
        return Extra(TEST_PLAN, said, first=said)
    wanted = [each for each in runs_beside(run, rig) if counts(plan, each.opened_utc_s)]
    newest = sorted(wanted, key=lambda each: -each.opened_utc_s)
    runs = [part for each in newest[:RUNS_MAX] for part in _parts(run.absolute().parent, each)]
    runs += [Ran(each.name, each.opened_utc_s, why_not=MANY_RUNS) for each in newest[RUNS_MAX:]]
    return plan_part(plan, judged(plan, runs, passed_of(read_json(passed_file(file)), plan)), times)


def runs_beside(run: Path, rig: str) -> list[RunSummary]:
    """All runs of the rig in the folder of this one, itself too; none that came from another PC."""
    beside = (
        each
        for each in run.absolute().parent.iterdir()
        if each.is_dir() and not each.is_symlink() and each.name[14:].startswith(rig)
    )
    return [each for each in map(summary_of, beside) if each.is_of(rig)]


def _specimen(plan: Plan) -> str:
    return ", ".join(filter(None, (plan.specimen, plan.serial)))


def _parts(folder: Path, summary: RunSummary) -> list[Ran]:
    """Until it is summed up, what was kept of it while it was recorded, and that there may be more."""
    run = folder / summary.name
    its, ends = read_so_far(run), (summary.name, summary.opened_utc_s, summary.closed_utc_s)
    read = [] if its is None else [Ran(*ends, its.evidence, "", its.missing_s)]
    summed_up = read and not (run / SO_FAR).exists()
    return read if summed_up else [*read, Ran(*ends, None, "it was not summed up yet")]


def plan_part(plan: Plan, its: Judgement, times: Times) -> Extra:
    """Its outcome with the reasons, what was counted of its goals, what is left, and each limit that was passed."""
    name = ", ".join(filter(None, (plan.specimen, plan.serial and f"serial number {plan.serial}")))
    sentence = f"{name}, over all its runs so far: {_SAID[its.outcome]}."
    if its.other_reasons:
        sentence += f" {'; '.join(its.other_reasons)}."
    rows = [("what", "found")]
    goals = [number(its.counted.starts, 0), f"of {number(plan.goal_cycles, 0)}" if plan.goal_cycles else ""]
    rows.append(("cycles", " ".join(filter(None, goals))))
    hours = [f"{number(its.counted.on_s / 3600.0, 2)} h", f"of {plan.goal_hours:g} h" if plan.goal_hours else ""]
    rows.append(("on-time", " ".join(filter(None, hours))))
    if its.passed_utc_s is not None:
        rows.append(("had passed", times.whole(its.passed_utc_s)))
    if its.counted.unknown_s:
        rows.append(("without samples", f"{length(its.counted.unknown_s)} of {length(its.counted.watched_s)}"))
    if its.ahead.seconds is not None:
        rows.append(("time left", f"about {length(its.ahead.seconds)}"))
    rows.append(("cyclic duration factor", figure_words(its.usage.duration_factor, "%", 1)))
    rows.append(("starts per hour", figure_words(its.usage.starts_per_hour, "", 1)))
    if its.duty_type.words:
        rows.append(("duty type", its.duty_type.words))
    for failure in its.failures[:FAILURES_SHOWN]:
        where = f"{failure.run}, cycle {failure.cycle}" if failure.cycle is not None else failure.run
        rows.append((f"limit passed, {times.whole(failure.utc_s)}", f"{failure.text} ({where})"))
    if its.failures_count > FAILURES_SHOWN:
        rows.append(("limits passed", f"and {number(its.failures_count - FAILURES_SHOWN, 0)} more"))
    rows += [("not known", each) for each in its.unknown[:UNKNOWN_SHOWN]]
    return Extra(TEST_PLAN, sentence, tuple(rows), shares=(1.6, 4.0), first=_first(plan, its))


def _first(plan: Plan, its: Judgement) -> str:
    """The outcome with the first reason, for the first page."""
    is_open = its.outcome is Outcome.UNDECIDED
    reason = "" if its.outcome is Outcome.PASS else f": {its.reasons[0].rstrip('.')}"
    whose = f"{_specimen(plan)}," if plan.serial else plan.specimen
    return f"The test of {whose} {'is' if is_open else 'has'} {_SAID[its.outcome]}{reason}."
