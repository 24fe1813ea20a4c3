"""NumPy's .npz of readings: a row an instant, a column a reading; words and reasons as numbers of a list of texts."""

import json
from collections.abc import Sequence
from contextlib import ExitStack
from pathlib import Path
from tempfile import TemporaryFile
from typing import Any, TypeAlias
from zipfile import ZIP_DEFLATED, ZIP_STORED, ZipFile

import numpy as np
from numpy.typing import NDArray

from server.export.format import CONFIDENCES, Chunk, Field, Readings, Series
from server.export.numpy_array import pack, put

TEXTS_MAX = 10_000  # reasons have figures in them, and each takes as much room as the longest
OTHER = "another reason: there are more than are kept here"
Columns: TypeAlias = list[Field]
# Of each array with a row for each instant: its type, whose columns it has, how it is stored (numbers as they are, for
# speed).
_ARRAYS: dict[str, tuple[type, str, int]] = {
    "utc_s": (np.float64, "", ZIP_STORED),
    "utc_u95_s": (np.float64, "", ZIP_STORED),
    "board_time_s": (np.float64, "", ZIP_STORED),
    "values": (np.float64, "number", ZIP_STORED),
    "u95": (np.float64, "number", ZIP_STORED),
    "confidence": (np.int8, "number", ZIP_DEFLATED),
    "reason": (np.int32, "number", ZIP_DEFLATED),
    "low95": (np.float64, "cut", ZIP_DEFLATED),
    "high95": (np.float64, "cut", ZIP_DEFLATED),
    "words": (np.int32, "word", ZIP_DEFLATED),
    "word_confidence": (np.int8, "word", ZIP_DEFLATED),
    "word_reason": (np.int32, "word", ZIP_DEFLATED),
}


def write_readings(readings: Readings, path: Path) -> None:
    """`values` (rows, names) with NaN where there is none, `u95`; `confidence` as an index into `confidences`, `reason`
    into `texts`; `words` (rows, word_names) likewise; `low95`, `high95` (rows, cut_names) where a bound cuts an
    interval. Lists are left out.
    """
    columns = {kind: [each for each in readings.fields if each.kind == kind] for kind in ("number", "word")}
    columns["cut"] = [each for each in columns["number"] if each.cut]
    texts, count = {"": 0, OTHER: 1}, 0
    with ExitStack() as stack:
        files = {name: stack.enter_context(TemporaryFile(dir=path.parent)) for name in _ARRAYS}
        for chunk in readings.chunks():
            for name, part in _rows(chunk, columns, texts).items():
                files[name].write(np.ascontiguousarray(part, _ARRAYS[name][0]).tobytes())
            count += chunk.utc_s.size
        with ZipFile(path, "w", ZIP_DEFLATED) as packed:
            for name, (kind, whose, how) in _ARRAYS.items():
                pack(packed, name, kind, (count, len(columns[whose])) if whose else (count,), how, files[name])
            for name, its in (("names", "number"), ("word_names", "word"), ("cut_names", "cut")):
                put(packed, name, [each.id for each in columns[its]], np.str_)
            put(packed, "units", [each.unit for each in columns["number"]], np.str_)
            put(packed, "confidences", CONFIDENCES)
            put(packed, "texts", list(texts))
            put(packed, "about", json.dumps(readings.about, ensure_ascii=False))


def _rows(chunk: Chunk, columns: dict[str, Columns], texts: dict[str, int]) -> dict[str, NDArray[np.generic]]:
    count = chunk.utc_s.size
    nothing = np.full(count, np.nan)
    none = Series("number", nothing, nothing, np.zeros(count, np.int8), np.zeros(count, np.int32))
    known = np.array([_number(text, texts) for text in chunk.reasons], np.int32)
    numbers, words, cut = (
        [chunk.series.get(each.id, none) for each in columns[kind]] for kind in ("number", "word", "cut")
    )
    return {
        "utc_s": chunk.utc_s,
        "utc_u95_s": chunk.utc_u95_s,
        "board_time_s": chunk.board_s,
        "values": _beside([each.values for each in numbers], count),
        "u95": _beside([each.u95 for each in numbers], count),
        "confidence": _beside([each.confidence for each in numbers], count),
        "reason": _beside([known[each.reason] for each in numbers], count),
        "low95": _beside([nothing if each.low95 is None else each.low95 for each in cut], count),
        "high95": _beside([nothing if each.high95 is None else each.high95 for each in cut], count),
        "words": _beside([_said(each, texts) for each in words], count),
        "word_confidence": _beside([each.confidence for each in words], count),
        "word_reason": _beside([known[each.reason] for each in words], count),
    }


def _said(series: Series, texts: dict[str, int]) -> list[int]:
    came = (series.confidence == CONFIDENCES.index("good")) | (series.confidence == CONFIDENCES.index("doubtful"))
    pairs = zip(series.values, came.tolist(), strict=True)
    return [_number(str(value) if there else "", texts) for value, there in pairs]


def _number(text: str, texts: dict[str, int]) -> int:
    if text in texts or len(texts) < TEXTS_MAX:
        return texts.setdefault(text, len(texts))
    return texts[OTHER]


def _beside(columns: Sequence[Any], count: int) -> NDArray[np.generic]:
    return np.column_stack(columns) if columns else np.zeros((count, 0))
