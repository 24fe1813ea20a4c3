"""A log read as tables: all that it knows of many instants at once. Writes nothing; any thread may call."""

import json
from collections.abc import Iterator, Sequence
from math import inf
from typing import Any

from server.runs.log.reading import LogReader
from server.runs.log.sealed import unsealed
from server.runs.log.table import Row, Table, table_of

HOUR_S = 3600.0
_ASKED_AT_ONCE = 500  # texts: SQLite takes so many in one question


class TableReader(LogReader):
    """Spans are UTC seconds, their ends included. Raises LogError likewise."""

    @property
    def newest_mark_utc_s(self) -> float:
        """When the newest entry in words came; 0: none did."""
        with self._told():
            return float(self._base.execute("SELECT coalesce(max(utc_s), 0) FROM marks").fetchone()[0])

    @property
    def has_margins(self) -> bool:
        """Whether it is of a version that keeps what readings may be off by, and lists."""
        with self._told():
            return bool(self._base.execute("PRAGMA user_version").fetchone()[0] > 1)

    def without_margins(self, from_utc_s: float, to_utc_s: float) -> int:
        """How many instants of a span are there without what they may be off by."""
        sql = "SELECT count(*) FROM instants WHERE utc_s >= ? AND utc_s <= ?"
        if self.has_margins:
            sql += " AND NOT EXISTS (SELECT 1 FROM margins WHERE margins.number = instants.number)"
        with self._told():
            return int(self._base.execute(sql, (from_utc_s, to_utc_s)).fetchone()[0])

    def check(self) -> None:
        """Raises LogError where any row of numbers has another checksum, or a record is none: all of it is read."""
        with self._told():
            for _ in self._rows(-inf, inf):
                pass
            for table in ("summaries", "blocks"):
                joined = f"SELECT data, ids, key FROM {table} JOIN layouts ON layouts.number = layout"
                for data, ids, key in self._base.execute(joined):
                    unsealed(data, ids, key)
            for table in ("events", "verdicts"):
                for (record,) in self._base.execute(f"SELECT record FROM {table}"):
                    json.loads(record)

    def state_changes(self) -> list[tuple[float, float, str]]:
        """All of the run state, in the order in which they were told: from when it holds, when it was told (UTC)."""
        sql = "SELECT utc_s, told_utc_s, CAST(state AS TEXT) FROM states WHERE utc_s > 0 ORDER BY number"
        with self._told():
            return [(float(utc_s), float(told), state) for utc_s, told, state in self._base.execute(sql)]

    def counts(self) -> dict[str, int]:
        """How often each kind of event came in the whole run, that with which it began too: the one number that list,
        Night and report tell."""
        with self._told():
            rows = self._base.execute("SELECT CAST(kind AS TEXT), count(*) FROM events GROUP BY kind").fetchall()
            return {kind: int(count) for kind, count in rows}

    def ends_of_events(self, half: int) -> tuple[dict[str, int], list[dict[str, Any]]]:
        """How many events there are by kind, and the first and the newest ones, so many at most: utc_s, record."""
        of = "SELECT number, utc_s, record FROM events ORDER BY number"
        sql = f"SELECT * FROM ({of} LIMIT ?) UNION SELECT * FROM ({of} DESC LIMIT ?) ORDER BY number"
        with self._told():
            rows = self._base.execute(sql, (half, half)).fetchall()
            ends = [{"utc_s": float(utc_s), "record": dict(json.loads(record))} for _, utc_s, record in rows]
        return self.counts(), ends

    def tables(self, from_utc_s: float, to_utc_s: float, rows_max: int, no_number: str) -> Iterator[Table]:
        """All that is known of the instants of a span, so many of an hour at once at most. `no_number`: the reason for
        a value that is none."""
        waiting = list[Row]()
        with self._told():
            for row in self._rows(from_utc_s, to_utc_s):
                if waiting and (len(waiting) >= rows_max or row.utc_s // HOUR_S > waiting[0].utc_s // HOUR_S):
                    yield table_of(waiting, self._texts_of, no_number)
                    waiting = []
                waiting.append(row)
            if waiting:
                yield table_of(waiting, self._texts_of, no_number)

    def _rows(self, from_utc_s: float, to_utc_s: float) -> Iterator[Row]:
        its = "instants.*, utc_u95_s, margins.data, margins.layout, lists FROM instants"
        join = "LEFT JOIN margins ON margins.number = instants.number"
        if not self.has_margins:
            its, join = "instants.*, NULL, NULL, NULL, NULL FROM instants", ""
        where = "WHERE utc_s >= ? AND utc_s <= ? ORDER BY instants.number"
        for found in self._base.execute(f"SELECT {its} {join} {where}", (from_utc_s, to_utc_s)):
            number, utc_s, board_s, _, _, interval_s, layout, data, utc_u95_s, margins, list_layout, lists = found
            ids = self._ids_of(layout)
            row = unsealed(data, ids, *found[:6])
            if margins is not None:
                margins = unsealed(margins, "", number, -1.0 if utc_u95_s is None else utc_u95_s)
            list_ids = "" if lists is None else self._ids_of(list_layout)
            lists = None if lists is None else unsealed(lists, list_ids, number)
            yield Row(utc_s, board_s, interval_s, ids, row, utc_u95_s, margins, list_ids, lists)

    def _texts_of(self, numbers: Sequence[int]) -> dict[int, str]:
        found = dict[int, str]()
        for at in range(0, len(numbers), _ASKED_AT_ONCE):
            its = numbers[at : at + _ASKED_AT_ONCE]
            marks = ", ".join("?" * len(its))
            sql = f"SELECT number, CAST(text AS TEXT) FROM texts WHERE number IN ({marks})"
            found |= dict(self._base.execute(sql, its).fetchall())
        return found
