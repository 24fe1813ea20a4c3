"""Of each world the moments at which the page has something to doubt or to leave out, chosen so that few tell all."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from server.config import RigSettings
from server.live.view import View
from server.pipeline import Pipeline

BEHIND_S = 0.05  # an arrival behind the newest reading
Chunk = tuple[float, bytes]  # seconds since the beginning, and what arrived then


@dataclass(frozen=True, slots=True)
class Told:
    """What a reading says at a moment: `words` are the phrase that is searched for, `reason` all that is said."""

    id: str
    confidence: str
    reason: str
    words: str


@dataclass(frozen=True, slots=True)
class Moment:
    """A world up to a moment, as it arrives, and what is told then: phrase -> readings that say it."""

    world: int
    chunks: tuple[Chunk, ...]
    told: dict[str, tuple[Told, ...]]


def moments(worlds: Iterable[bytes], phrases: Iterable[str]) -> list[Moment]:
    """Enough of them that each phrase that any world tells is told in one; the one that tells most new ones first."""
    wanted, found, chosen = set(phrases), list[Moment](), list[Moment]()
    for number, data in enumerate(worlds):
        told = set[str]()
        for moment in _of(number, data, wanted):
            if not moment.told.keys() <= told:  # of a world only those that tell what it has not told before
                told |= moment.told.keys()
                found.append(moment)
    while found:
        best = max(found, key=lambda each: len(each.told.keys() & wanted))
        if not best.told.keys() & wanted:
            break
        chosen.append(Moment(best.world, best.chunks, {each: best.told[each] for each in best.told.keys() & wanted}))
        wanted -= best.told.keys()
    return chosen


def _of(number: int, data: bytes, phrases: set[str]) -> Iterator[Moment]:
    pipeline, view, chunks, now_s = Pipeline(RigSettings("bench")), View("bench"), list[Chunk](), 0.0
    for frame in data.split(b"\0")[:-1]:
        arrived, output = frame + b"\0", pipeline.push(frame + b"\0", now_s)
        instants = [each for part in output.parts for each in part.instants]
        now_s = max([now_s, *(each.board_s + BEHIND_S for each in instants)])
        chunks.append((now_s, arrived))
        for part in output.parts:
            view.take(part, part.clock)
        if instants:
            told = _told(view.readings(now_s), phrases)
            if told:
                yield Moment(number, tuple(chunks), told)


def _told(readings: dict[str, dict[str, object]], phrases: set[str]) -> dict[str, tuple[Told, ...]]:
    told: dict[str, tuple[Told, ...]] = {}
    for id_, record in readings.items():
        said = f"{record['reason']} {record['value']}"
        for words in phrases:
            if words in said:
                told[words] = (
                    *told.get(words, ()),
                    Told(id_, str(record["confidence"]), str(record["reason"]), words),
                )
    return told
