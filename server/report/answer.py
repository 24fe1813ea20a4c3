"""What a run comes to in a sentence: the worst first, with its signs, what is not known, and what to do next. Pure."""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Protocol

from server.alarms.notice import Notice
from server.report.blocks import Sign
from server.report.holes import Hole
from server.report.overload import Overload
from server.report.report import Happened, Spell
from server.report.states import NOT_RECORDED, UNKNOWN
from server.report.stories import act_of, counted_words, has_passed, stories_of
from server.report.words import FAST, Times, length, number, times_words
from server.runs.log.missing import NOT_YET
from server.verdict import Certainty, Speaks, Verdict

SIGNS_MAX = 7  # of each kind
UNSURE_SHARE, UNSURE_S = 0.02, 15.0  # from there on it is told that the state was not known
OPENING_S = 15.0  # before its first state, which is told after up to 12 s: so long at most nothing is odd in it
MISSING_TOLD = 1e-3  # of the samples: from there on the answer says so


class Seen(Protocol):
    """What an answer rests on: a report, or what the logs of a stretch of time tell."""

    @property
    def verdicts(self) -> Sequence[Verdict]: ...
    @property
    def alarms(self) -> Sequence[Notice] | None: ...
    @property
    def spent(self) -> Mapping[str, tuple[int, float]]: ...
    @property
    def spells(self) -> Sequence[Spell]: ...
    @property
    def events(self) -> Sequence[Happened]: ...
    @property
    def counts(self) -> Mapping[str, int]: ...
    @property
    def gaps(self) -> Sequence[tuple[float, float]]: ...
    @property
    def account(self) -> Sequence[Mapping[str, Any]]: ...
    @property
    def troubles(self) -> Sequence[str]: ...
    @property
    def from_utc_s(self) -> float: ...
    @property
    def length_s(self) -> float: ...


@dataclass(frozen=True, slots=True)
class Found:
    """The answer, its signs, what is not known, and what to do next with its caution (both may be empty)."""

    text: str
    signs: tuple[Sign, ...]
    unknown: tuple[str, ...]
    next: str
    caution: str


def answer_of(
    report: Seen,
    times: Times,
    overload: Overload | None = None,
    gone: Hole | None = None,
    standing: Collection[str] = (),
    over: Collection[str] = (),
) -> Found:
    """The verdicts that were held at the end come first, then that nothing comes any more (`gone`), alarms, stalls, too
    much current, and whether it ran through. `standing`: ids of alarms that stand now, where it reaches to now; `over`:
    of those of them that are not so now."""
    held = [each for each in report.verdicts if each.certainty is not Certainty.OPEN]
    ran = "running" in report.spent
    stalls = report.counts.get("stalled", 0)
    troubles = [_plain(held[0])] if held else []
    if gone is not None:
        troubles.append(f"nothing came after {times.moment(gone.from_utc_s)} ({gone.reason})")
    stories = stories_of(report.alarms or (), report.from_utc_s, standing)
    troubles += counted_words(stories)
    if stalls:
        often = {1: "", 2: " twice"}.get(stalls, f" {number(stalls, 0)} times")
        troubles.append(f"it stalled{often}")
    if overload is not None:
        share = f"{number(100.0 * overload.highest, 0)}{FAST}%"
        troubles.append(f"its current stood at up to {share} of the plate's for {length(overload.seconds)}")
    signs = [*_signs_of(held), *_happened(report, times)]
    test = next((each.next_test for each in (*held, *report.verdicts) if each.next_test is not None), None)
    return Found(
        _sentence(ran, troubles, _unsure_s(report), _unread(report), has_passed(stories)),
        tuple(signs),
        tuple(_unknown(report, times)),
        act_of(report.alarms or (), over) if test is None else test.text,
        "" if test is None else test.caution,
    )


def _unsure_s(report: Seen) -> float:
    """For how long its state was not known, but for the moments before the first one and after what was not recorded;
    0: not for long enough to be told."""
    _, unsure_s = report.spent.get(UNKNOWN, (0, 0.0))
    before = [NOT_RECORDED, *(each.state for each in report.spells)]
    openings = (
        each.to_utc_s - each.from_utc_s
        for each, was in zip(report.spells, before, strict=False)
        if each.state == UNKNOWN and was == NOT_RECORDED
    )
    unsure_s -= sum(each for each in openings if each <= OPENING_S)
    return unsure_s if unsure_s > min(UNSURE_SHARE * report.length_s, UNSURE_S) else 0.0


def _unread(report: Seen) -> str:
    """Why nothing is known of its state, where that could not be read; else empty."""
    return "" if report.spent.keys() - {UNKNOWN, NOT_RECORDED} else next(iter(report.troubles), "")


def _sentence(ran: bool, troubles: list[str], unsure_s: float, unread: str, has_passed: bool) -> str:
    if not troubles and unread:
        return f"It is not known whether it ran: {unread}"
    if not troubles and unsure_s:
        return f"It {'ran' if ran else 'was not seen running'}, but for {length(unsure_s)} its state was not known"
    if not troubles:
        came = "its test has passed" if has_passed else "nothing out of the ordinary was seen"
        return f"It ran, and {came}" if ran else "It was not seen running"
    said = ", ".join(troubles[:-1]) + (" and " if troubles[1:] else "") + troubles[-1]
    return f"It ran, but {said}" if ran else f"{said[:1].upper()}{said[1:]}"


def _plain(verdict: Verdict) -> str:
    said = verdict.answer.rstrip(".")
    said = said[:1].lower() + said[1:] if said[1:2].islower() else said
    return said if verdict.certainty is Certainty.PLAIN else f"probably: {said}"


def _signs_of(held: list[Verdict]) -> list[Sign]:
    """Those of the first verdict before those of the second, and of too many the first ones."""
    marks = {Speaks.FOR: "for", Speaks.AGAINST: "against", Speaks.MISSING: "missing"}
    signs = [Sign(marks[sign.speaks], sign.text) for verdict in held[:2] for sign in verdict.signs]  # type: ignore[arg-type]  # words of Mark
    if len(signs) <= SIGNS_MAX:
        return signs
    more = len(signs) - (SIGNS_MAX - 1)
    return [*signs[: SIGNS_MAX - 1], Sign("note", f"and {times_words(more, 'more sign')}")]


def _happened(report: Seen, times: Times) -> list[Sign]:
    """How it was spent, and the moments that decide something."""
    signs = []
    _, running_s = report.spent.get("running", (0, 0.0))
    if report.length_s and running_s:
        share = 100.0 * running_s / report.length_s
        signs.append(Sign("note", f"running {length(running_s)}, {number(share, 1)}{FAST}% of the time"))
    if starts := report.counts.get("running", 0):
        often = {1: "once", 2: "twice"}.get(starts, f"{number(starts, 0)} times")
        after = ", after starts and after stalls" if report.counts.get("stalled", 0) else ""
        signs.append(Sign("note", f"came to speed {often}{after}"))
    gone = [Sign("note", f"{times.moment(each.utc_s)}: {each.text}, not at the end") for each in _taken_back(report)]
    stalls = [each for each in report.events if each.kind == "stalled"]
    told = [Sign("note", f"{times.moment(each.utc_s)}: {each.text}") for each in stalls]
    return [*signs, *_few(gone, "conclusion"), *_few(told, "stall", report.counts.get("stalled", 0))]


def _few(signs: list[Sign], what: str, count: int = 0) -> list[Sign]:
    """All, or the first and the newest ones, and between them how many more there are. `count`: of all, where not all
    are kept; of those of which none is kept the answer tells how many there are."""
    first, behind, count = signs[:1], signs[1:], max(count, len(signs))
    newest = behind if count <= SIGNS_MAX else behind[2 - SIGNS_MAX :]
    more = count - len(first) - len(newest)
    if not signs or not more:
        return signs
    return [*first, Sign("note", f"and {times_words(more, f'more {what}')}"), *newest]


def _taken_back(report: Seen) -> list[Happened]:
    """What was concluded on the way and was held no more at the end: when first, each once."""
    told = [each for each in report.events if each.kind == "concluded"]
    once = {each.text: each for each in reversed(told)}.values()
    gone = [each for each in once if not any(held.answer.startswith(each.text) for held in report.verdicts)]
    return sorted(gone, key=lambda each: each.utc_s)


def _unknown(report: Seen, times: Times) -> list[str]:
    unknown = [
        f"{times.moment(since)} to {times.moment(to)} unknown: nothing was recorded for {length(to - since)}"
        for since, to in report.gaps
    ][:4]
    if len(report.gaps) > 4:
        unknown.append(f"and {times_words(len(report.gaps) - 4, 'more gap')}")
    for line in report.account:
        missing, promised = sum(line["missing"].values()), line["promised"]
        if missing > MISSING_TOLD * promised:
            share = f"{number(100.0 * missing / promised, 2)}{FAST}%"
            what = f"samples of {', '.join(line['channels'][:3])}" if line["channels"] else line["what"]
            unknown.append(f"{number(missing, 0)} {what} did not come, {share} of what was promised")
    if unsure := _unsure_s(report):
        unknown.append(f"the motor's state was not known for {length(unsure)}")
    if NOT_RECORDED in report.spent and not report.gaps:
        unknown.append("a part was not recorded")
    if report.troubles:
        first = report.troubles[0]
        unknown.append(first if first.startswith(NOT_YET) else f"a part of the run cannot be read: {first}")
    return unknown
