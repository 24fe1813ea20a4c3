"""Instants of a log as columns: all readings of some hour at once, as fast as numpy takes them. Pure.

Bytes are those of `packed.py` and `margins.py`; what they mean is the same.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from server.runs.log.margins import list_reasons, unpacked_lists, unpacked_margins
from server.runs.log.packed import WORD

Floats = NDArray[np.float64]
GOOD, DOUBTFUL, ABSENT = 1, 2, 3  # the confidence of a cell; 0: the instant has no such reading
_MARK = np.array([GOOD, DOUBTFUL, ABSENT], np.int8)


@dataclass(frozen=True, slots=True)
class Row:
    """One instant as it lies in the log; `margins` and `lists` are None where the log has none of them."""

    utc_s: float
    board_s: float
    interval_s: float
    ids: str  # a line each
    data: bytes | memoryview
    utc_u95_s: float | None = None
    margins: bytes | memoryview | None = None
    list_ids: str = ""
    lists: bytes | memoryview | None = None


@dataclass(frozen=True, slots=True)
class Cells:
    """One reading over the rows of a table. `values`: numbers, NaN where there is none; where `kind` is "word" texts,
    where it is "list" tuples. `reason`: index into the table's reasons. Ends are NaN where no bound cuts it."""

    kind: str
    values: Any
    confidence: NDArray[np.int8]
    reason: NDArray[np.int32]
    u95: Floats
    below: Floats
    above: Floats


@dataclass(frozen=True, slots=True)
class Table:
    """Rows are instants in their order."""

    utc_s: Floats
    board_s: Floats
    interval_s: Floats
    utc_u95_s: Floats  # NaN: not known
    cells: Mapping[str, Cells]
    reasons: tuple[str, ...]


@dataclass(slots=True)
class _Growing:
    """Cells while they are filled; `number`: of its text, of each value that is a word, else -1."""

    values: Floats
    number: NDArray[np.int64]
    confidence: NDArray[np.int8]
    reason: NDArray[np.int32]
    u95: Floats
    below: Floats
    above: Floats
    lists: dict[int, tuple[float, ...]] = field(default_factory=dict)
    is_list: bool = False


class _Texts:
    """Reasons get an index each, "" is 0; numbers of texts are looked up once."""

    def __init__(self, texts_of: Callable[[Sequence[int]], Mapping[int, str]]) -> None:
        self._texts_of, self._known = texts_of, dict[int, str]()
        self.reasons = {"": 0}

    def know(self, numbers: NDArray[np.integer[Any]]) -> None:
        new = [each for each in set(numbers.tolist()) if each not in self._known]
        self._known.update(self._texts_of(new))
        if missing := [each for each in new if each not in self._known]:
            raise ValueError(f"text {missing[0]} is missing")

    def text(self, number: int) -> str:
        return self._known[number]

    def reason(self, text: str) -> int:
        return self.reasons.setdefault(text, len(self.reasons))

    def reasons_of(self, numbers: NDArray[np.uint32]) -> NDArray[np.int32]:
        self.know(numbers)
        each, at = np.unique(numbers, return_inverse=True)
        return np.array([self.reason(self._known[number]) for number in each.tolist()], np.int32)[at]


def table_of(rows: Sequence[Row], texts_of: Callable[[Sequence[int]], Mapping[int, str]], no_number: str) -> Table:
    """`texts_of`: numbers of texts -> the texts; `no_number`: the reason for a value that is none, infinite say.

    Raises ValueError for bytes that are none, and where a text is missing.
    """
    texts, found, groups = _Texts(texts_of), dict[str, _Growing](), dict[str, list[int]]()
    for k, row in enumerate(rows):
        groups.setdefault(row.ids, []).append(k)
    for ids, places in groups.items():
        _fill(found, ids.split("\n"), np.array(places), [rows[k] for k in places], len(rows), texts)
    _fill_lists(found, rows, texts)
    for its in found.values():  # what came out as no number is our own fault, and is told as absent
        wrong = (its.number < 0) & ((its.confidence == GOOD) | (its.confidence == DOUBTFUL)) & ~np.isfinite(its.values)
        if wrong.any() and not its.is_list:
            its.values[wrong], its.confidence[wrong], its.reason[wrong] = np.nan, ABSENT, texts.reason(no_number)
            for each in (its.u95, its.below, its.above):
                each[wrong] = np.nan
    times = np.array([(row.utc_s, row.board_s, row.interval_s, row.utc_u95_s) for row in rows], np.float64)
    cells = {key: _cells(its, texts) for key, its in found.items()}
    return Table(times[:, 0], times[:, 1], times[:, 2], times[:, 3], cells, tuple(texts.reasons))


def _of(found: dict[str, _Growing], its_id: str, count: int) -> _Growing:
    its = found.get(its_id)
    if its is None:
        values, u95, below, above = (np.full(count, np.nan) for _ in range(4))
        confidence, reason = np.zeros(count, np.int8), np.zeros(count, np.int32)
        its = found[its_id] = _Growing(values, np.full(count, -1), confidence, reason, u95, below, above)
    return its


def _fill(
    found: dict[str, _Growing], ids: list[str], at: NDArray[np.intp], rows: list[Row], count: int, texts: _Texts
) -> None:
    """Rows that have the same readings."""
    n = len(ids)
    head = np.frombuffer(b"".join(row.data[: 9 * n] for row in rows), np.dtype([("v", "<f8", n), ("m", "u1", n)]))
    values, marks = head["v"].reshape(len(rows), n), head["m"].reshape(len(rows), n)
    plain, words = marks & ~np.uint8(WORD), marks >= WORD
    doubted = plain != 0
    lengths = np.array([len(row.data) for row in rows])
    if (plain > 2).any() or not np.array_equal(lengths, 9 * n + 4 * doubted.sum(axis=1)):
        raise ValueError("reasons do not fit the marks of a row")
    reasons = np.zeros(marks.shape, np.int32)
    reasons[doubted] = texts.reasons_of(np.frombuffer(b"".join(row.data[9 * n :] for row in rows), "<u4"))
    known = [k for k, row in enumerate(rows) if row.margins is not None]
    margins = unpacked_margins(n, [row.margins for row in rows if row.margins is not None]) if known else None
    for k, its_id in enumerate(ids):
        its, is_word = _of(found, its_id, count), words[:, k]
        its.values[at] = np.where(plain[:, k] == 2, np.nan, values[:, k])
        its.confidence[at], its.reason[at] = _MARK[plain[:, k]], reasons[:, k]
        if is_word.any():
            its.number[at[is_word]] = values[is_word, k].astype(np.int64)
        if margins is not None:
            for into, kept in ((its.u95, margins.half), (its.below, margins.below), (its.above, margins.above)):
                into[at[known]] = kept[:, k]


def _fill_lists(found: dict[str, _Growing], rows: Sequence[Row], texts: _Texts) -> None:
    numbers = [list_reasons(row.list_ids, row.lists) for row in rows if row.lists is not None]
    texts.know(np.concatenate(numbers) if numbers else np.zeros(0, np.uint32))
    for k, row in enumerate(rows):
        if row.lists is None:
            continue
        for its_id, values, confidence, reason in unpacked_lists(row.list_ids.split("\n"), row.lists, texts.text):
            its = _of(found, its_id, len(rows))
            its.is_list = True
            its.confidence[k] = ("good", "doubtful", "absent").index(confidence.value) + 1
            its.reason[k] = texts.reason(reason)
            if values is not None:
                its.lists[k] = values


def _cells(its: _Growing, texts: _Texts) -> Cells:
    kind, count = "number", its.values.size
    values: Any = its.values
    if its.is_list:
        kind, values = "list", [its.lists.get(k, ()) for k in range(count)]
    elif (its.number >= 0).any():
        texts.know(its.number[its.number >= 0])
        kind, values = "word", [_word(its, k, number, texts) for k, number in enumerate(its.number.tolist())]
    return Cells(kind, values, its.confidence, its.reason, its.u95, its.below, its.above)


def _word(its: _Growing, k: int, number: int, texts: _Texts) -> str:
    """A number among words is told as one."""
    if number >= 0:
        return texts.text(number)
    return str(float(its.values[k])) if its.confidence[k] in (GOOD, DOUBTFUL) else ""
