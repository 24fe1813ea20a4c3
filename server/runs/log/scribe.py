"""What is taken of a run -> rows of its log. Called by one thread, which decides when they are written.

Live and when a log is made again the same calls come in the same order, so the numbers are the same too: behind each
`begin` of the run they count anew, so what a kill took of the end of one stretch moves no number of the next.
"""

import json
from collections.abc import Iterable, Sequence
from dataclasses import asdict
from math import inf, isfinite
from typing import Any

from server.motors import motor_type
from server.readings import Event, Instant
from server.runs.layout import Entry, Kind, is_time
from server.runs.log.blocks import BLOCK, packed_block
from server.runs.log.extremes import stretch_at
from server.runs.log.margins import packed_lists, packed_margins
from server.runs.log.missing import NO_TIME, begun, ended, spans_in, text_of
from server.runs.log.packed import packed
from server.runs.log.sealed import sealed
from server.runs.log.store import LEVEL_KEYS, Store
from server.runs.log.summary import LENGTHS_S, Ended, Stretch, Summaries, joined
from server.runs.log.taken import Said, Taken
from server.stream.clock import Clock
from server.verdict import Verdict

KNOWN_MAX = 4096  # texts and layouts whose numbers are remembered; one that comes again later is written again
_BEGIN_NUMBERS = 1 << 32  # of events, verdicts, states behind one `begin`
_TICK_MAX = 1 << 63  # what SQLite holds


class Scribe:
    """Of one open store. After a `write` that raised it is used no more. `lost_instants`: that are not in the log."""

    def __init__(self, store: Store) -> None:
        self._store = store
        self._rows: dict[str, list[tuple[Any, ...]]] = {}
        self._meta: dict[str, object] = {"clean": 0}
        self._numbers = {name: store.next_number(name) for name in ("texts", "layouts", "instants", "marks")}
        self._begins = int(store.meta("begins"))
        self._told = dict.fromkeys(("events", "verdicts", "states"), 0)
        self._texts: dict[str, int] = {}
        self._layouts: dict[tuple[str, ...], tuple[int, str]] = {}
        self._summaries = Summaries()
        self._ended: dict[tuple[int, int], Stretch] = {}
        self._blocks = [-1] * len(LENGTHS_S)  # of each level, which one is under way
        self._concluded: tuple[Verdict, ...] = ()
        self._concluded_at = 0.0, 0.0  # UTC and board time
        self._verdicts_told: tuple[Verdict, ...] = ()
        self._closed = False
        self.lost_instants = int(store.meta("lost_instants"))
        self._newest_utc_s = self._written_utc_s = store.newest_utc_s() or 0.0  # of all instants, and of those synced
        self._missing = spans_in(store.meta("incomplete"), store.meta("missing"))
        for name in self._told:  # of a run that goes on
            newest = store.next_number(name)
            self._told[name] = newest % _BEGIN_NUMBERS if newest // _BEGIN_NUMBERS == self._begins else 0
        self._resume()

    def take(self, taken: Taken) -> None:
        """One entry and what came of it."""
        for said in taken.said:
            self._said(said, taken.motor_type)
        if taken.entry is not None:
            self._entry(taken.entry)

    def lost(self, instants: int, why: str) -> None:
        """So many instants since the last `write` are not in it, so it is to be made again from the segments."""
        self.lost_instants += instants
        self._missing = begun(self._missing, self._written_utc_s)
        self._meta |= {
            "lost_instants": self.lost_instants,
            "incomplete": why,
            "missing": text_of(self._missing),
        }

    def write(self) -> None:
        """All that came since the last time. Raises sqlite3.Error."""
        for (level, number), stretch in self._ended.items():
            before = self._store.in_rows(level, number, number + 1).get(number)
            whole = stretch if before is None else joined((before, stretch))
            self._rows.setdefault("summaries", []).append(self._row(level, number, whole.ids, whole.pack()))
        if not self._rows and self._meta.keys() <= {"clean"}:
            return
        self._store.write(self._rows, self._meta)
        self._written_utc_s = self._newest_utc_s
        summed, self._rows, self._ended, self._meta = self._ended, {}, {}, {}
        for level, number in summed:
            block, under_way = number // BLOCK, self._blocks[level]
            self._blocks[level] = max(block, under_way)
            if 0 <= under_way < block:
                self._pack(level, under_way)

    def end(self) -> None:
        """The last call: what is open is told as it is. Raises sqlite3.Error."""
        self._keep(self._summaries.end())
        self._meta["clean"] = 1
        self.write()
        for level, block in self._store.unpacked() if self._closed else ():
            self._pack(level, block)

    def _pack(self, level: int, block: int) -> None:
        """Rows of a block as one: it is written once, and read in one piece."""
        first = block * BLOCK
        stretches = self._store.in_rows(level, first, first + BLOCK)
        if stretches:
            ids, data = packed_block(first, stretches)
            self._rows["blocks"] = [self._row(level, block, ids, data)]
            self._store.write(self._rows, {}, drop=[(level, first, first + BLOCK)])
            self._rows = {}

    def _row(self, level: int, number: int, ids: tuple[str, ...], data: bytes) -> tuple[int, int, bytes]:
        """Of a stretch or a block."""
        key, (layout, text) = level * LEVEL_KEYS + number, self._layout(ids)
        return key, layout, sealed(data, text, key)

    def _resume(self) -> None:
        """Open again what was open when the run was left, from what had ended then."""
        newest_utc_s = self._store.newest_utc_s()
        if newest_utc_s is None:
            return
        opened = list[tuple[int, int]]()
        for level, length_s in enumerate(LENGTHS_S):
            number = int(newest_utc_s) // length_s
            if level == 0:
                parts = self._store.stretches(0, number, number + 1)
            else:
                finer, its = opened[-1]
                parts = self._store.stretches(finer, number * length_s // LENGTHS_S[finer], its)
            if parts:
                self._summaries.resume(level, number, joined(list(parts.values())))
            opened.append((level, number))
        self._store.write({}, {}, drop=[(level, number, number + 1) for level, number in opened])

    def _said(self, said: Said, motor: str) -> None:
        kind = motor_type(motor)
        far_line = kind.far_line if kind else ("speed_rpm",)
        for instant in said.instants:
            self._instant(instant, said, far_line)
        for change in said.changes:
            told_utc_s, _ = _moment(said.clock, change.told_s)
            self._tell("states", *_moment(said.clock, change.board_s), told_utc_s, change.state)
        for event in said.events:
            self._tell("events", *_moment(said.clock, event.board_s), _plain(event.kind), _event(event))
        if said.verdicts is None:
            return
        board_s = max((instant.board_s for instant in said.instants), default=said.clock.board_s)
        changed = _points(said.verdicts) != _points(self._concluded)
        self._concluded, self._concluded_at = said.verdicts, _moment(said.clock, board_s)
        if changed:
            self._tell_verdicts()

    def _tell_verdicts(self) -> None:
        self._verdicts_told = self._concluded
        self._tell("verdicts", *self._concluded_at, json.dumps([asdict(each) for each in self._concluded]))

    def _instant(self, instant: Instant, said: Said, far_line: Sequence[str]) -> None:
        utc_s = said.clock.utc_s(instant.board_s)
        if not is_time(utc_s) or instant.tick >= _TICK_MAX or instant.first_tick >= _TICK_MAX:
            self.lost(1, NO_TIME)
            return
        row = packed(instant.readings, self._text)
        if not row.ids:
            return  # lists alone
        number, (layout, text) = self._next("instants"), self._layout(row.ids)
        its = number, utc_s, instant.board_s, instant.first_tick, instant.tick, instant.interval_s
        self._rows.setdefault("instants", []).append((*its, layout, sealed(row.data, text, *its)))
        self._newest_utc_s = max(self._newest_utc_s, utc_s)
        if self._missing and self._missing[-1][1] == inf:
            self._missing = ended(self._missing, utc_s)
            self._meta["missing"] = text_of(self._missing)
        self._margins(number, instant, said.clock.uncertainty_s)
        stretch = stretch_at(instant, row, said.rows, far_line)
        if stretch is not None:
            self._keep(self._summaries.take(utc_s, stretch))

    def _margins(self, number: int, instant: Instant, utc_u95_s: float | None) -> None:
        ids, lists = packed_lists(instant.readings, self._text)
        row: tuple[Any, ...] = None, None
        if ids:
            layout, text = self._layout(ids)
            row = layout, sealed(lists, text, number)
        data = sealed(packed_margins(instant.readings), "", number, -1.0 if utc_u95_s is None else utc_u95_s)
        self._rows.setdefault("margins", []).append((number, utc_u95_s, data, *row))

    def _keep(self, stretches: Iterable[Ended]) -> None:
        for each in stretches:
            key = each.level, each.number
            before = self._ended.get(key)
            self._ended[key] = each.stretch if before is None else joined((before, each.stretch))

    def _entry(self, entry: Entry) -> None:
        if entry.kind is Kind.BEGIN:
            self._begins += 1
            self._told = dict.fromkeys(self._told, 0)
            self._meta["begins"] = self._begins
        elif entry.kind is Kind.CLOSE:
            self._meta["closed"], self._closed = 1, True
            if self._concluded != self._verdicts_told:  # with their figures at the end
                self._tell_verdicts()
        utc_s = entry.utc_s if is_time(entry.utc_s) else 0.0
        mark = self._next("marks"), utc_s, entry.kind.name.lower(), _plain(entry.text)
        self._rows.setdefault("marks", []).append(mark)

    def _tell(self, table: str, utc_s: float, board_s: float, *rest: object) -> None:
        number = self._begins * _BEGIN_NUMBERS + self._told[table]
        self._told[table] += 1
        self._rows.setdefault(table, []).append((number, utc_s, board_s, *rest))

    def _next(self, table: str) -> int:
        number = self._numbers[table]
        self._numbers[table] += 1
        return number

    def _text(self, text: str) -> int:
        number = self._texts.get(text)
        if number is None:
            if len(self._texts) >= KNOWN_MAX:
                self._texts.clear()
            number = self._texts[text] = self._next("texts")
            self._rows.setdefault("texts", []).append((number, _plain(text)))
        return number

    def _layout(self, ids: tuple[str, ...]) -> tuple[int, str]:
        known = self._layouts.get(ids)
        if known is None:
            if len(self._layouts) >= KNOWN_MAX:
                self._layouts.clear()
            known = self._layouts[ids] = self._next("layouts"), _plain("\n".join(map(_line, ids)))
            self._rows.setdefault("layouts", []).append(known)
        return known


def _moment(clock: Clock, board_s: float) -> tuple[float, float]:
    utc_s = clock.utc_s(board_s)
    return (utc_s if is_time(utc_s) else 0.0), board_s


def _points(verdicts: tuple[Verdict, ...]) -> frozenset[tuple[str, str, str]]:
    """What of verdicts makes them others: their figures change all the time."""
    return frozenset((each.key, each.about, each.certainty.value) for each in verdicts)


def _event(event: Event) -> str:
    value = None if event.value is None or not isfinite(event.value) else event.value
    return json.dumps({**asdict(event), "value": value})


def _line(text: str) -> str:
    """Names of places are a stranger's, and a layout has a line for each."""
    return text.replace("\n", " ")


def _plain(text: str) -> str:
    """Half a surrogate pair is no text that a file takes."""
    return text.encode("utf-8", "replace").decode()
