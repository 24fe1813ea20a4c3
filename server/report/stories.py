"""The alarms of a stretch of time: which of them came in it, which are from before, and what the worst asks for. Pure.

What was folded into one is one story. Answer, first page and table of a report count the same stories.
"""

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import Any

from server.alarms.life import LOOK_WHY, NOT_WATCHED
from server.alarms.notice import Notice, Rank, Told
from server.alarms.ready import BEHIND, PASSED
from server.report.words import times_words

_ALIKE = ("rig", "id", "act", "why", "reading", "value", "limit", "more", "first_utc_s", "first_id", "so_s", "name")
_SHELF = (Told.SHELVED, Told.UNSHELVED)


class Came(StrEnum):
    """What a story is to the stretch of time, in words behind one; `words`: behind so many."""

    STANDS = "stands from before"
    WITHIN = "came"
    BEFORE = "stood from before"  # and something was told of it in the stretch
    SHELVED = "was shelved before"  # it came

    def words(self, count: int) -> str:
        return self.value if count == 1 else self.value.replace("stands", "stand").replace("was", "were")


ASKING = (Came.STANDS, Came.WITHIN, Came.BEFORE)


@dataclass(frozen=True, slots=True)
class Story:
    """All that was told of it, in turn, and its newest alarm: as it was raised, or the last that was told."""

    told: tuple[Notice, ...]
    newest: Notice
    came: Came

    @property
    def is_pass(self) -> bool:
        """That a test has passed is no trouble."""
        return self.newest.name == PASSED


def stories_of(alarms: Iterable[Notice], from_utc_s: float, standing: Iterable[str] = ()) -> list[Story]:
    """In the order in which they came, each notice once. `standing`: ids of those that stand now."""
    stories: dict[str, list[Notice]] = {}
    once = {(each.number, each.id, each.kind): each for each in alarms}
    for each in sorted(once.values(), key=lambda its: its.number):
        stories.setdefault(each.story, []).append(each)
    stand = set(standing)
    return [_story(told, from_utc_s, stand) for told in stories.values()]


def _story(told: Sequence[Notice], from_utc_s: float, standing: set[str]) -> Story:
    raised = [each for each in told if each.kind is Told.RAISED]
    newest = raised[-1] if raised else told[-1]
    if any(each.at_utc_s >= from_utc_s for each in raised):
        came = Came.WITHIN
    elif newest.id in standing:
        came = Came.STANDS
    else:
        came = Came.SHELVED if not raised and told[0].kind in _SHELF else Came.BEFORE
    return Story(tuple(told), newest, came)


def counted_words(stories: Iterable[Story], of: Iterable[Came] = ASKING) -> list[str]:
    """Such as "one alarm and 2 cautions came": a drift is a caution, and a recording that failed. That a test has
    passed is none."""
    counted = [each for each in stories if not each.is_pass]
    found = [(came, [each.newest.rank for each in counted if each.came is came]) for came in of]
    return [f"{_ranks_words(ranks)} {came.words(len(ranks))}" for came, ranks in found if ranks]


def _ranks_words(ranks: Sequence[Rank]) -> str:
    told = ((ranks.count(Rank.ALARM), "alarm"), (ranks.count(Rank.CAUTION), "caution"))
    return " and ".join(times_words(count, what) for count, what in told if count)


def has_passed(stories: Iterable[Story]) -> bool:
    """Whether it was told that a test has passed."""
    return any(each.is_pass and each.came is not Came.SHELVED for each in stories)


def worst_first(stories: Iterable[Story]) -> list[Story]:
    """Those that ask for a person: alarms before cautions, and what mostly follows from another one behind."""
    asking = (each for each in stories if each.came in ASKING and not each.is_pass)
    return sorted(asking, key=lambda each: (each.newest.rank is not Rank.ALARM, each.newest.name in BEHIND))


def act_of(alarms: Sequence[Notice], over: Collection[str]) -> str:
    """What the worst alarm asks for, the newest of them, one that is so before those that are over (`over`: ids of
    those that stand and are not so), and a stall before what follows from it; empty where none came."""
    raised = sorted((each for each in alarms if each.kind is Told.RAISED), key=lambda each: each.name not in BEHIND)
    worst = [each for each in raised if each.rank is Rank.ALARM] or raised
    ends = {each.id: each for each in alarms if each.kind is Told.ENDED}
    if so := [each for each in worst if each.id not in {*ends, *over}]:
        return f"{so[-1].act.rstrip('.')}."
    if not worst:
        return ""
    last = worst[-1]
    seen = {(each.id, each.at_utc_s) for each in alarms if each.kind is Told.ACKNOWLEDGED}
    end = ends.get(last.id)  # what ended as a person saw it, or as nobody watches it any more, may still be so
    asks = end is not None and ((end.id, end.at_utc_s) in seen or end.why.endswith(NOT_WATCHED))
    return f"{(last.act if asks else LOOK_WHY).rstrip('.')}: {last.why.partition(';')[0].rstrip('.')}."


def raised_of(standing: Iterable[Mapping[str, Any]]) -> list[Notice]:
    """Of alarms that stand, as SOCKET.md has them, what raised each; without shelved ones, of which nobody wants to
    hear. An id ends with the number of its notice."""
    return [
        Notice(
            number=int(tail) if (tail := each["id"].rpartition("-")[2]).isdecimal() else 0,
            kind=Told.RAISED,
            rank=Rank(each["rank"]),
            at_utc_s=each["raised_utc_s"],
            **{key: each[key] for key in _ALIKE},
        )
        for each in standing
        if each["shelved_until_utc_s"] is None
    ]


def with_standing(alarms: Sequence[Notice], standing: Iterable[Notice]) -> tuple[Notice, ...]:
    """With those that are not told to have been raised, in the order in which they came."""
    there = {each.id for each in alarms if each.kind is Told.RAISED}
    return tuple(sorted([*alarms, *(each for each in standing if each.id not in there)], key=lambda its: its.number))
