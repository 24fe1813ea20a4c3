"""A recorded run through the same pipeline, as fast as it goes. Reads only."""

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path

from server.calibration.entry import BoardCalibration
from server.config import ConfigError, RigSettings
from server.pipeline import Output, Pipeline
from server.runs.course import Course
from server.runs.layout import Entry, Kind, Numbered, Unreadable, is_time
from server.runs.library import summary_of
from server.runs.packing.thinned import thinned_of
from server.runs.segments import entries, first_number, segments, written_again


@dataclass(frozen=True, slots=True)
class Played:
    """An entry and what came of it, or `trouble`: a sentence about what could not be read, without an entry."""

    entry: Entry | None
    output: Output | None = None
    trouble: str = ""


def recorded(run: Path) -> Iterator[Entry | str]:
    """The entries of a run in turn, each once, and a sentence where some are missing. Raises OSError."""
    yield from in_turn(segments(run), 0)


def in_turn(files: Sequence[Path], due: int | None = None, from_utc_s: float | None = None) -> Iterator[Entry | str]:
    """The same for some of its segments. `due`: the number of the first entry; None: whichever it has.

    `from_utc_s`: what came before it in the first of them may be passed by.
    """
    turn, begins = _Turn(due), list[int | None]()
    for place, path in enumerate(files):
        for each in entries(path, from_utc_s if path is files[0] else None):
            if isinstance(each, Unreadable):
                yield f"{path.name}: {_unreadable(each)}{_behind(turn.newest_utc_s)}"
                continue
            if each.entry.kind is Kind.SEGMENT:
                continue
            if turn.due is not None and each.number > turn.due:
                begins = begins or [first_number(file) for file in files]
                later = [file for k, file in enumerate(files) if k > place and (begins[k] or 0) < each.number]
                for again in written_again(later, turn.due, each.number):
                    yield from turn.take(path.name, again)
            yield from turn.take(path.name, each)


class _Turn:
    """Entries as they come -> each once. `due`: the number of the next, None: whichever it has."""

    def __init__(self, due: int | None) -> None:
        self.due = due
        self.newest_utc_s = 0.0

    def take(self, name: str, each: Numbered) -> Iterator[Entry | str]:
        """The entry, unless it came before, and what is to be said first. `name`: of the segment."""
        thinned = thinned_of(each)
        behind = each.number + 1 if thinned is None else thinned.next_number
        if self.due is not None and behind <= self.due:
            return  # written again after a failed sync
        if self.due is not None and each.number > self.due:
            yield f"{name}: {each.number - self.due} entries before this one are missing"
        self.due = behind
        if thinned is not None:  # told at its end: one that begins to play inside must see it too
            self.newest_utc_s = thinned.to_utc_s if is_time(thinned.to_utc_s) else self.newest_utc_s
            yield Entry(Kind.MARK, self.newest_utc_s, thinned.sentence.encode())
        elif is_time(each.entry.utc_s):
            self.newest_utc_s = each.entry.utc_s
            yield each.entry
        else:  # a record can hold any float64: it happened after what came before
            yield f"{name}: entry {each.number} has no time that a clock tells"
            yield replace(each.entry, utc_s=self.newest_utc_s)


def _unreadable(what: Unreadable) -> str:
    if not what.length:
        return f"what may have stood behind byte {what.offset} cannot be read"
    return f"{what.length} bytes from byte {what.offset} on hold no record"


def _behind(utc_s: float) -> str:
    """Where in time, as far as it is known."""
    return f", behind {datetime.fromtimestamp(utc_s, UTC):%Y-%m-%d %H:%M:%S} UTC" if utc_s else ""


def not_played(unread: Sequence[str], described: bool) -> str:
    """What of the entries that came could not be read, and where, or empty. `described`: a description was in them."""
    first = unread[0] if unread else "the board's description is not in it, so its samples mean nothing"
    if not described:
        return f"nothing of the run could be read: {first}"
    return (
        f"{len(unread)} parts of the run could not be read, the first: {first}" if len(unread) > 1 else "".join(unread)
    )


def outputs(
    turn: Iterable[Entry | str], course: Course, to_utc_s: float, played: Callable[[float], None] = lambda utc_s: None
) -> Iterator[Output]:
    """What came of each entry up to a moment, in its parts; what cannot be read is passed by.

    `played` is told the time of each. Raises OSError.
    """
    for entry in turn:
        if isinstance(entry, str):
            continue
        if entry.utc_s > to_utc_s:
            return
        try:
            output = course.perform(entry)
        except ConfigError:  # settings of another version: what held before goes on
            continue
        played(entry.utc_s)
        yield from () if output is None else output.parts


class Replay:
    """Iterate it for what each entry brings; `pipeline` is the one that the newest entry went through.

    `instead`: settings used in place of those in the run; `calibrations`: by the board's serial number, likewise.
    """

    def __init__(
        self,
        run: Path,
        instead: RigSettings | None = None,
        calibrations: Mapping[str, BoardCalibration] | None = None,
    ) -> None:
        self._run = run
        self._course = Course(summary_of(run).rig, instead, calibrations)

    @property
    def pipeline(self) -> Pipeline | None:
        return self._course.pipeline

    def __iter__(self) -> Iterator[Played]:
        """Raises OSError if the folder cannot be read."""
        for each in recorded(self._run):
            if isinstance(each, str):
                yield Played(None, trouble=each)
                continue
            try:
                yield Played(each, self._course.perform(each))
            except ConfigError as error:
                yield Played(None, trouble=str(error))
