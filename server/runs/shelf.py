"""The runs as a person looks for them: each with what is kept of it in short, note, tags, and words for a search.

What is costly to know of a run was computed once and lies beside it; what was read of it stays in memory until its file
changes. Reads and never writes. Any thread may call.
"""

import os
from collections import Counter
from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass
from math import inf
from pathlib import Path
from time import monotonic
from typing import Any, TypeAlias

from server.runs.beside import DIGEST, NOTE, TAGS, changed_ns, read_digest, read_note, read_tags, size_of
from server.runs.library import Library, RunSummary
from server.runs.log.dated import DATED, read_dated
from server.runs.log.store import LOG
from server.runs.pack import to_pack
from server.runs.segments import segments


@dataclass(frozen=True, slots=True)
class Shelved:
    """One run. `kinds`: of the events in it, and "alarm"; `counts`: how often each kind of event came, `raised`: how
    often each alarm, by its words; `digest` None: it was not summed up yet; `trouble`: why its folder cannot be read,
    or empty."""

    summary: RunSummary
    note: str
    tags: tuple[str, ...]
    kinds: frozenset[str]
    digest: dict[str, Any] | None
    trouble: str
    counts: Mapping[str, int]
    raised: Mapping[str, int]
    words: str  # of the motor, of what happened and was concluded, alarms, note and #tags, for the search


# What only a run's own page and its report ask for.
_WHOLE_ONLY = ("overview", "settings", "described", "evidence", "account", "damage", "drawn")
# What a strange file of one run may raise: it is told of that run, and is no end of the list and of all other work.
_STRANGE = (OSError, LookupError, TypeError, ValueError, AttributeError)
RAISED_MAX = 20  # different ones: a list tells three
QUIET_S = 60.0  # an open run to which so long nothing was added was left so

_Stamp = tuple[int | None, ...]
State: TypeAlias = tuple[str, str, int]


class Shelf:
    """Of one library."""

    def __init__(self, library: Library) -> None:
        self.folder = library.folder
        self._library = library
        self._packed: set[str] = set()  # closed runs with nothing left to pack
        self._known: dict[RunSummary, tuple[_Stamp, Shelved]] = {}
        self._looked: dict[str, tuple[int, float]] = {}  # open runs: how large at the last look, and when that grew
        self._broken_logs: set[str] = set()  # runs whose log was found broken
        self._mended: set[str] = set()  # those of them that were given to be summed up, once each

    def runs(self, words: str = "") -> list[Shelved]:
        """The runs in which each of these words stands, newest first."""
        summaries = self._library.runs()
        shelved = [self._shelved(summary) for summary in summaries]
        self._known = {summary: known for summary in summaries if (known := self._known.get(summary))}
        wanted = words.casefold().split()
        return [each for each in shelved if all(word in each.words for word in wanted)]

    def get(self, name: str) -> Shelved | None:
        """The run of that name."""
        return next((self._shelved(each) for each in self._library.runs() if each.name == name), None)

    def summaries(self) -> list[RunSummary]:
        """All runs, newest first."""
        return self._library.runs()

    def is_recorded(self, summary: RunSummary, now_utc_s: float) -> bool:
        """Whether an open run is added to. `now_utc_s`: by the clock that dates files."""
        return summary.closed_utc_s is None and self._grows(summary.name, now_utc_s)

    def newest(self, rig: str) -> RunSummary | None:
        """The newest run of a rig; one that came from another PC is none of it."""
        return self._library.newest(rig)

    def within(self, rig: str, from_utc_s: float, to_utc_s: float) -> list[RunSummary]:
        """The runs of a rig that lie in a span, at least in part, the oldest first; one that is open goes on."""
        runs = [run for run in self._library.runs() if run.is_of(rig) and run.opened_utc_s < to_utc_s]
        return [run for run in reversed(runs) if run.closed_utc_s is None or run.closed_utc_s > from_utc_s]

    def whole_digest(self, summary: RunSummary) -> dict[str, Any] | None:
        """All that is kept of a run in short; the list does without what only its own page shows."""
        digest = read_digest(self.folder / summary.name)
        return digest if digest is not None and _fits(self.folder, summary, digest) else None

    def state(self, name: str) -> State | None:
        """How a run is now: why it closed, its last segment and the bytes of that; None: it cannot be told."""
        try:
            last = segments(self.folder / name)[-1]
            reason = next(run.reason for run in self._library.runs() if run.name == name)
            return reason, last.name, last.stat().st_size
        except (OSError, IndexError, StopIteration):
            return None

    def to_sum_up(self, but: Collection[str], now_utc_s: float, held: Collection[str] = ()) -> str:
        """The newest run that was not summed up, or whose log must be made again, and to which nothing is added any
        more; empty where there is none.

        `now_utc_s`: by the clock that dates files; `held`: runs that rigs hold open, though nothing may come just now.
        """
        for summary in self._library.runs():
            name, is_open = summary.name, summary.closed_utc_s is None
            if name in but or (is_open and (name in held or self._grows(name, now_utc_s))):
                continue
            shelved = self._shelved(summary)
            if shelved.trouble:
                continue
            broken = summary.name in self._broken_logs - self._mended
            if shelved.digest is None or broken or not self._has_log(summary.name):
                self._mended |= {summary.name} & self._broken_logs
                return summary.name
        return ""

    def log_is_broken(self, name: str) -> None:
        """Somebody could not read the log of a run: it is made again, once."""
        self._broken_logs.add(name)

    def _has_log(self, name: str) -> bool:
        return os.path.lexists(self.folder / name / LOG)

    def to_pack(self, but: Collection[str], now_utc_s: float) -> RunSummary | None:
        """The newest run with a segment to which nothing is added any more and that is not packed. `now_utc_s`: by the
        clock that dates files."""
        for summary in self._library.runs():
            closed, run = summary.closed_utc_s is not None, self.folder / summary.name
            if summary.name in but or (closed and summary.name in self._packed):
                continue
            try:
                if not to_pack(run, closed):
                    self._packed |= {summary.name} if closed else set()
                elif not closed or not self._grows(summary.name, now_utc_s):  # one just closed is looked at first
                    return summary
            except OSError:
                continue  # nothing to be read
        return None

    def _grows(self, name: str, now_utc_s: float) -> bool:
        """Whether something was added to an open run a short while ago: it is being recorded.

        The dates of its files tell, and what has changed since the last look: a clock that is set makes dates wrong.
        """
        try:
            files = [path.stat() for path in segments(self.folder / name)]
        except OSError:
            return True  # nothing to be read
        size, now_s = sum(each.st_size for each in files), monotonic()
        before, grew_s = self._looked.get(name, (size, -inf))
        self._looked[name] = size, now_s if size != before else grew_s
        changed_s = max((each.st_mtime for each in files), default=0.0)
        return abs(now_utc_s - changed_s) < QUIET_S or now_s - self._looked[name][1] < QUIET_S

    def is_there(self, name: str) -> bool:
        """Whether its folder is."""
        return (self.folder / name).is_dir()

    def is_summed_up(self, name: str) -> bool:
        """Whether what is kept of it in short fits the run as it is, and it has a log."""
        shelved = self.get(name)
        return shelved is not None and shelved.digest is not None and self._has_log(name)

    def _shelved(self, summary: RunSummary) -> Shelved:
        run = self.folder / summary.name
        stamp = tuple(changed_ns(run / name) for name in (NOTE, TAGS, DATED, DIGEST))
        known = self._known.get(summary)
        settled = summary.closed_utc_s is not None
        if known is not None and settled and known[0] == stamp and not known[1].trouble:
            return known[1]
        try:
            shelved = self._read(summary, run)
        except _STRANGE as error:
            said = f"what lies beside it cannot be read ({type(error).__name__}: {error})"
            words = "\n".join(_words(summary, None)).casefold()
            shelved = Shelved(summary, "", (), frozenset(), None, said, {}, {}, words)
        self._known[summary] = stamp, shelved
        return shelved

    def _read(self, summary: RunSummary, run: Path) -> Shelved:
        note, tags, alarms = read_note(run), read_tags(run), _alarms(run)
        digest = self.whole_digest(summary)
        said = dict.fromkeys(f"{each.get('act', '')} {each.get('why', '')}" for each in alarms)
        words = "\n".join((*_words(summary, digest), *said, note, *(f"#{tag}" for tag in tags))).casefold()
        counts = {kind: int(its[0]) for kind, its in _counted(digest, "events").items()}
        kinds = frozenset((*counts, *(("alarm",) if alarms else ())))
        if digest is not None:
            digest = {key: value for key, value in digest.items() if key not in _WHOLE_ONLY}
        return Shelved(summary, note, tags, kinds, digest, _trouble(run), counts, _raised(alarms), words)


def _fits(folder: Path, summary: RunSummary, digest: dict[str, Any]) -> bool:
    """Whether the run is still the one that was summed up: it may have gone on."""
    if summary.closed_utc_s is not None:
        return bool(digest.get("reason") == summary.reason)
    try:
        return bool(digest.get("bytes") == size_of(folder / summary.name))
    except OSError:
        return False


def _trouble(run: Path) -> str:
    """Why a run cannot be read, or empty."""
    try:
        if not run.is_dir():
            return "its folder is gone"
        recorded = any(path.stat().st_size for path in segments(run))
    except OSError as error:
        return f"its folder cannot be read ({error.strerror})"
    return "" if recorded else "its folder holds no recording"


def _words(summary: RunSummary, digest: dict[str, Any] | None) -> Iterator[str]:
    """Of the run, its motor, what happened in it and what was concluded of it."""
    yield from (summary.name, summary.rig, summary.serial, summary.reason)
    if digest is None:
        return
    yield from (digest["motor"], str(digest["type"]).replace("_", " "), digest["source"])
    yield from (f"{each['text']} {each['detail']}" for each in digest["events"])
    yield from (str(text) for _, _, text in _counted(digest, "verdicts").values())


def _counted(digest: dict[str, Any] | None, what: str) -> dict[str, Any]:
    """Events or verdicts by their kind: how often, since when, in which words."""
    counted: dict[str, Any] = (digest or {}).get("evidence", {}).get(what, {})
    return counted


def _alarms(run: Path) -> list[Mapping[str, Any]]:
    """What was said of the alarms of a run; nothing where that cannot be read."""
    try:
        return [each.said for each in read_dated(run, ("alarm",))]
    except OSError:
        return []


def _raised(alarms: Iterable[Mapping[str, Any]]) -> dict[str, int]:
    """How often each alarm came, in the words of a list: without what stands behind its reason."""
    raised = (each for each in alarms if each.get("kind") == "raised")
    words = (f"{each.get('rank')} raised: {str(each.get('why', '')).split(';')[0].rstrip('.')}" for each in raised)
    return dict(Counter(words).most_common(RAISED_MAX))
