"""Verdicts, alarms and losses of a report in words. Pure."""

from collections.abc import Collection, Iterator, Sequence

from server.alarms.notice import Notice, Rank, Told
from server.report.blocks import Caution, Heading, Mark, Part, Sign, Signs, Table, Text
from server.report.report import Report
from server.report.stories import Came, Story, counted_words, has_passed, stories_of, worst_first
from server.report.words import Times, length, number
from server.runs.account import words
from server.verdict import Certainty, Speaks, Verdict

_MARKS: dict[Speaks, Mark] = {Speaks.FOR: "for", Speaks.AGAINST: "against", Speaks.MISSING: "missing"}
_SEEN = {Told.ACKNOWLEDGED: "acknowledged", Told.SHELVED: "shelved", Told.UNSHELVED: "shelved no more"}
ALARMS_SHOWN, WORST_SHOWN = 100, 3


def time_share(times: Times) -> float:
    """Of a table's width, for moments."""
    return 2.4 if times.are_long else 1.4


def verdict_parts(verdicts: Sequence[Verdict]) -> Iterator[Part]:
    """Each with its question, its signs, what is open and the next test."""
    yield Heading("Verdicts")
    if not verdicts:
        yield Text("Nothing was concluded of this run.")
    for each in verdicts:
        likely = {Certainty.PLAIN: "", Certainty.PROBABLE: "Probably: ", Certainty.OPEN: "Open: "}[each.certainty]
        yield Heading(each.question, "")
        yield Text(f"{likely}{each.answer}")
        signs = [Sign(_MARKS[sign.speaks], sign.text) for sign in each.signs]
        signs += [Sign("missing", f"open: {said}") for said in each.open]
        if signs:
            yield Signs(tuple(signs))
        if each.next_test is not None:
            if each.next_test.caution:
                yield Caution("Before that:", each.next_test.caution)
            yield Text(f"Next: {each.next_test.text}")


def alarm_parts(
    alarms: Sequence[Notice] | None, times: Times, from_utc_s: float, standing: Collection[str] = ()
) -> Iterator[Part]:
    """What became of each alarm, in the order in which they came; what was folded into one is one. `standing`: ids of
    those that stand now."""
    stories = stories_of(alarms or (), from_utc_s, standing)
    counts = counted_words(stories, Came)
    yield Heading("Alarms", ", ".join([*counts, "its test has passed"] if has_passed(stories) else counts))
    if alarms is None:
        yield Text("No alarms are kept with this run.")
        return
    if not alarms:
        yield Text("No alarms.")
        return
    rows = tuple(_alarm_row(each, times) for each in stories[:ALARMS_SHOWN])
    yield Table(("came", "alarm", "what", "figures"), rows, (time_share(times), 1.2, 5.8, 2.2))
    if len(stories) > ALARMS_SHOWN:
        yield Text(f"and {number(len(stories) - ALARMS_SHOWN, 0)} more.", second=True)


def worst_alarms(stories: Sequence[Story], times: Times) -> Iterator[Sign]:
    """For the first page: the worst of them, those that say the same as one, with the moment of the first, and how many
    more there are."""
    alike: dict[tuple[Rank, str], list[Story]] = {}
    for each in worst_first(stories):
        alike.setdefault((each.newest.rank, each.newest.why.partition(";")[0].rstrip(".")), []).append(each)
    for (rank, why), its in list(alike.items())[:WORST_SHOWN]:
        more = f"{why}, and {_number_words(len(its) - 1)} more like it" if its[1:] else why
        yield Sign("against", f"{_came(its[0], times)}: {'Alarm' if rank is Rank.ALARM else 'Caution'}: {more}")
    if left := sum(len(its) for its in list(alike.values())[WORST_SHOWN:]):
        yield Sign("note", f"and {_number_words(left)} more, in the table of alarms")


def _number_words(count: int) -> str:
    return "one" if count == 1 else number(count, 0)


def _alarm_row(its: Story, times: Times) -> tuple[str, ...]:
    """One row of all that was told of an alarm and of those that were folded into it, with one total."""
    story, newest = its.told, its.newest
    raised = newest.kind is Told.RAISED
    end = next((each for each in reversed(story) if (each.id, each.kind) == (newest.id, Told.ENDED)), None)
    became = [_became(each, times) for each in story if each is end or each.kind in _SEEN]
    became += filter(None, [_total(story[-1])])
    said = (end or newest).why if end is not None or not raised else f"{newest.act}: {newest.why}"
    behind = "; ".join(became)
    return (
        _came(its, times),
        "Alarm" if newest.rank is Rank.ALARM else "Caution",
        f"{said.rstrip('.')}. {behind[:1].upper()}{behind[1:]}." if became else said,
        ", ".join(filter(None, (newest.value, newest.limit and f"limit {newest.limit}"))),
    )


def _came(its: Story, times: Times) -> str:
    """When the first of them came; of one that did not come while this run was recorded in words."""
    if its.newest.first_utc_s is not None:
        return times.moment(its.newest.first_utc_s)
    if its.newest.kind is Told.RAISED:
        return times.moment(its.told[0].at_utc_s)
    return "not raised" if its.told[0].kind is Told.SHELVED else "earlier"


def _became(notice: Notice, times: Times) -> str:
    note = f" ({notice.note})" if notice.note else ""
    return f"{_SEEN.get(notice.kind, 'ended')} {times.moment(notice.at_utc_s)}{note}"


def _total(newest: Notice) -> str:
    """How often it came and for how long it was so in all; empty where it came once and nobody counted."""
    often = "" if not newest.more else "it came twice" if newest.more == 1 else f"it came {newest.more + 1} times"
    lasted = f"so for {length(newest.so_s)}{' in all' if often else ''}" if newest.so_s else ""
    return ", ".join(filter(None, (often, lasted)))


def loss_parts(report: Report) -> Iterator[Part]:
    """The account of samples, and damage by kind."""
    yield Heading("Losses on the wire")
    if not report.account:
        yield Text("Nothing that the board counts came, so there is nothing to account for.")
    for line in report.account:
        yield Text(f"{words(line)}.")
    rows = tuple(
        (each.kind, number(each.times, 0), number(each.frames, 0), number(each.samples, 0), each.example)
        for each in report.damage
    )
    if rows:
        yield Table(("kind", "times", "frames", "samples", "such as"), rows, (1.4, 0.8, 0.8, 1, 6), right=(1, 2, 3))
    else:
        yield Text("No damage was told.")
    for each in report.troubles:
        yield Text(f"Unread: {each}")
