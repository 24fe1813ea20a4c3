"""Two recorded runs laid on each other: a child process plays a stretch of each, the figures lie beside the runs."""

import asyncio
from dataclasses import dataclass
from typing import Any

from server.comparison.differences import MORE, Difference, differences, figures_at
from server.duty.cycle import Figure
from server.low_priority import answers, asking
from server.runs.shelf import Shelf, Shelved

PROGRAM = "server.comparison.make"
START = "power_on"
COMPARED_MAX = 4  # at once, under way or waiting: each plays two runs
ANSWER_S = 60.0  # with the wait for those before it: some seconds of a run are played in less
SHORT_S, LONG_S = 1.2, 20.0  # of a start that is drawn, from power on
_BEFORE_S, _AFTER_S = 1.0, 2.0  # of another event
_ROOM = 1.25  # behind the slower start


class NoComparisonError(Exception):
    """Why two runs cannot be compared and what to do, in a sentence."""


class LaterError(NoComparisonError):
    """Asked again later they can be."""


class NotSummedUpError(LaterError):
    """One of them, `run`, is not summed up yet."""

    def __init__(self, run: str, said: str) -> None:
        super().__init__(said)
        self.run = run


@dataclass(frozen=True, slots=True)
class Side:
    """One of the two; `at_utc_s`: the moment at which it is laid on the other."""

    shelved: Shelved
    at_utc_s: float
    figures: dict[str, Figure]
    stretch: dict[str, Any]


@dataclass(frozen=True, slots=True)
class Comparison:
    """`kinds`: events at which these two can be laid on each other, with their words; a start comes first."""

    kind: str
    kinds: list[tuple[str, str]]
    older: Side
    newer: Side
    differences: list[Difference]


class Comparing:
    """Of one shelf. One comparison at a time, few wait; cancel one to give it up. On the event loop's thread."""

    def __init__(self, shelf: Shelf) -> None:
        self._shelf, self._one = shelf, asyncio.Lock()
        self._askers = 0

    async def compare(self, one: Shelved, other: Shelved, kind: str = "") -> Comparison:
        """`kind` empty: at their starts, or if one of them has none at the first event that both have.

        Raises NoComparisonError; OSError.
        """
        pair = sorted((one, other), key=lambda each: each.summary.opened_utc_s)
        digests = [await asyncio.to_thread(self._digest, each) for each in pair]
        kinds = kinds_of(digests)
        kind = kind or (kinds[0][0] if kinds else START)
        moments = [_moment(each, digest, kind) for each, digest in zip(pair, digests, strict=True)]
        if kind not in dict(kinds):  # a mark is where a person or the service was, not the motor
            others = " or ".join(dict(kinds)) or "other runs"
            raise NoComparisonError(f"runs are not laid on each other at {kind}; choose {others}")
        figures = [figures_at(digest["evidence"], at) for digest, at in zip(digests, moments, strict=True)]
        before_s, after_s = (0.0, _length_s(figures)) if kind == START else (_BEFORE_S, _AFTER_S)
        asked = [{"kind": kind, "at_utc_s": at, "before_s": before_s, "after_s": after_s} for at in moments]
        stretches = await self._stretches([each.summary.name for each in pair], asked)
        sides = [Side(*each) for each in zip(pair, moments, figures, stretches, strict=True)]
        if kind == START:
            for side in sides:
                side.figures.update({key.key: Figure(*side.stretch[key.key]) for key in MORE})
        older, newer = sides
        return Comparison(kind, kinds, older, newer, differences(older.figures, newer.figures))

    def _digest(self, shelved: Shelved) -> dict[str, Any]:
        digest = self._shelf.whole_digest(shelved.summary)
        if digest is None:
            name = shelved.summary.name
            if shelved.trouble:
                raise NoComparisonError(shelved.trouble)
            if shelved.summary.closed_utc_s is None:
                raise NotSummedUpError(name, f"{name} is still recorded; it can be compared when it has ended")
            raise NotSummedUpError(name, f"{name} has ended and is not summed up yet; it can be compared in a moment")
        return digest

    async def _stretches(self, names: list[str], asked: list[dict[str, Any]]) -> list[dict[str, Any]]:
        if self._askers >= COMPARED_MAX:
            raise LaterError(f"{COMPARED_MAX} comparisons are being made already; it can be compared in a moment")
        self._askers += 1
        try:
            async with asyncio.timeout(ANSWER_S), self._one:
                both = await asyncio.gather(*map(self._stretch, names, asked), return_exceptions=True)
        except TimeoutError:
            raise NoComparisonError("this PC is too busy to compare; ask again later") from None
        finally:
            self._askers -= 1
        for failed in both:
            if isinstance(failed, BaseException):
                raise failed
        return [each for each in both if not isinstance(each, BaseException)]

    async def _stretch(self, name: str, asked: dict[str, Any]) -> dict[str, Any]:
        asked = {**asked, "run": str(self._shelf.folder / name)}
        told = [each async for each in answers(await asking(PROGRAM), asked)]
        said = told[-1] if told else {}
        if "current_a" not in said:
            raise NoComparisonError(
                f"{name} cannot be read ({said.get('trouble', 'its program ended without a word')})"
            )
        return said


def kinds_of(digests: list[dict[str, Any]]) -> list[tuple[str, str]]:
    """Kinds of events that all of these have, with the words of the first, a start first of all."""
    words: dict[str, str] = {}
    if all(digest.get("start") for digest in digests):
        words[START] = "Power came on"
    for event in digests[0]["events"]:
        if event["kind"] != "mark" and all(_first(digest, event["kind"]) is not None for digest in digests):
            words.setdefault(event["kind"], event["text"])
    return list(words.items())


def _moment(shelved: Shelved, digest: dict[str, Any], kind: str) -> float:
    start = digest.get("start") if kind == START else None
    at_utc_s = start["utc_s"] if start else _first(digest, kind)
    if at_utc_s is None:
        what = "no start was seen in it" if kind == START else f"nothing of the kind {kind} happened in it"
        raise NoComparisonError(
            f"{shelved.summary.name} cannot be laid on the other: {what}; choose another event or run"
        )
    return float(at_utc_s)


def _first(digest: dict[str, Any], kind: str) -> float | None:
    return next((float(each["utc_s"]) for each in digest["events"] if each["kind"] == kind), None)


def _length_s(figures: list[dict[str, Figure]]) -> float:
    """As much as both starts take, and a little more."""
    values = [its["starting_time_s"].value or 0.0 for its in figures if "starting_time_s" in its]
    return min(max(SHORT_S, _ROOM * max(values, default=0.0)), LONG_S)
