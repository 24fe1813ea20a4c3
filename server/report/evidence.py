"""Verdicts, alarms and losses of a report in words. Pure."""

from collections.abc import Iterator, Sequence

from server.alarms.notice import Notice, Rank, Told
from server.report.blocks import Caution, Heading, Mark, Part, Sign, Signs, Table, Text
from server.report.report import Report
from server.report.words import Times, number
from server.runs.account import words
from server.verdict import Certainty, Speaks, Verdict

_MARKS: dict[Speaks, Mark] = {Speaks.FOR: "for", Speaks.AGAINST: "against", Speaks.MISSING: "missing"}
_TOLD = {Told.RAISED: "came", Told.ENDED: "ended", Told.ACKNOWLEDGED: "acknowledged"}
_TOLD |= {Told.SHELVED: "shelved", Told.UNSHELVED: "shelved no more", Told.AGAIN: "keeps coming"}
ALARMS_SHOWN = 100


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


def _times(notice: Notice) -> str:
    """How often it came, of one that took others in."""
    if not notice.more or notice.kind not in (Told.AGAIN, Told.ENDED):
        return ""
    often = "twice" if notice.more == 1 else f"{notice.more + 1} times"
    return f" It came {often}{f', and was so for {notice.so_s:.0f} s in all' if notice.so_s else ''}."


def alarm_parts(alarms: Sequence[Notice] | None, times: Times) -> Iterator[Part]:
    """What became of each alarm, in the order of time."""
    yield Heading("Alarms")
    if alarms is None:
        yield Text("No alarms are kept with this run.")
        return
    if not alarms:
        yield Text("No alarms.")
        return
    rows = tuple(
        (
            times.moment(each.at_utc_s),
            f"{'Alarm' if each.rank is Rank.ALARM else 'Caution'} {_TOLD[each.kind]}",
            f"{each.act}: {each.why}" if each.kind is Told.RAISED else f"{each.why}{_times(each)}",
            ", ".join(filter(None, (each.value, each.limit and f"limit {each.limit}", each.note))),
        )
        for each in alarms[:ALARMS_SHOWN]
    )
    yield Table(("time", "alarm", "what", "figures, note"), rows, (time_share(times), 2.2, 4.4, 2.6))
    if len(alarms) > ALARMS_SHOWN:
        yield Text(f"and {number(len(alarms) - ALARMS_SHOWN, 0)} more.", second=True)


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
