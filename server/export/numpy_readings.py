"""NumPy's .npz of readings: a row an instant, a column a reading; words and reasons as numbers of a list of texts."""

import json
from collections.abc import Sequence
from contextlib import ExitStack
from pathlib import Path
from tempfile import TemporaryFile
from typing import Any
from zipfile import ZIP_DEFLATED, ZIP_STORED, ZipFile

import numpy as np
from numpy.typing import NDArray

from server.export.format import CONFIDENCES, Chunk, Field, Readings, Series
from server.export.numpy_array import LEVEL, pack, put

_NONE = 0  # of a list of texts the first one, which is empty
# Of each array with a row for each instant: its type, whose columns it has, how it is stored.
_ARRAYS: dict[str, tuple[type, str, int]] = {
    "utc_s": (np.float64, "", ZIP_STORED),
    "utc_u95_s": (np.float64, "", ZIP_DEFLATED),
    "board_time_s": (np.float64, "", ZIP_STORED),
    "values": (np.float64, "numbers", ZIP_DEFLATED),
    "u95": (np.float64, "numbers", ZIP_DEFLATED),
    "low95": (np.float64, "numbers", ZIP_DEFLATED),
    "high95": (np.float64, "numbers", ZIP_DEFLATED),
    "confidence": (np.int8, "numbers", ZIP_DEFLATED),
    "reason": (np.int32, "numbers", ZIP_DEFLATED),
    "words": (np.int32, "words", ZIP_DEFLATED),
    "word_confidence": (np.int8, "words", ZIP_DEFLATED),
    "word_reason": (np.int32, "words", ZIP_DEFLATED),
}


def write_readings(readings: Readings, path: Path) -> None:
    """`values` (rows, names) with NaN where there is none, `u95` and where a bound cuts `low95`, `high95`; `confidence`
    as an index into `confidences`, `reason` into `texts`; `words` (rows, word_names) likewise. Lists are left out.
    """
    fields = {kind: [each for each in readings.fields if each.kind == kind] for kind in ("number", "word")}
    columns = {"": 0, "numbers": len(fields["number"]), "words": len(fields["word"])}
    texts, count = {"": _NONE}, 0
    with ExitStack() as stack:
        files = {name: stack.enter_context(TemporaryFile(dir=path.parent)) for name in _ARRAYS}
        for chunk in readings.chunks():
            rows = _rows(chunk, fields["number"], fields["word"], texts)
            for (name, (kind, _, _)), part in zip(_ARRAYS.items(), rows, strict=True):
                files[name].write(np.ascontiguousarray(part, kind).tobytes())
            count += chunk.utc_s.size
        with ZipFile(path, "w", compresslevel=LEVEL) as packed:
            for name, (kind, whose, how) in _ARRAYS.items():
                pack(packed, name, kind, (count, columns[whose]) if whose else (count,), how, files[name])
            put(packed, "names", [each.id for each in fields["number"]])
            put(packed, "units", [each.unit for each in fields["number"]])
            put(packed, "word_names", [each.id for each in fields["word"]])
            put(packed, "confidences", CONFIDENCES)
            put(packed, "texts", list(texts))
            put(packed, "about", json.dumps(readings.about, ensure_ascii=False))


def _rows(chunk: Chunk, numbers: list[Field], words: list[Field], texts: dict[str, int]) -> list[NDArray[np.generic]]:
    """In the order of `_ARRAYS`."""
    count = chunk.utc_s.size
    nothing = np.full(count, np.nan)
    none = Series("number", nothing, nothing, np.zeros(count, np.int8), np.zeros(count, np.int32))
    known = np.array([_number(text, texts) for text in chunk.reasons], np.int32)
    its = [chunk.series.get(each.id, none) for each in numbers]
    of_words = [chunk.series.get(each.id, none) for each in words]
    return [
        chunk.utc_s,
        chunk.utc_u95_s,
        chunk.board_s,
        _beside([each.values for each in its], count),
        _beside([each.u95 for each in its], count),
        _beside([nothing if each.low95 is None else each.low95 for each in its], count),
        _beside([nothing if each.high95 is None else each.high95 for each in its], count),
        _beside([each.confidence for each in its], count),
        _beside([known[each.reason] for each in its], count),
        _beside([_said(each, texts) for each in of_words], count),
        _beside([each.confidence for each in of_words], count),
        _beside([known[each.reason] for each in of_words], count),
    ]


def _said(series: Series, texts: dict[str, int]) -> list[int]:
    if series.kind != "word":
        return [_NONE] * series.confidence.size
    came = (series.confidence == CONFIDENCES.index("good")) | (series.confidence == CONFIDENCES.index("doubtful"))
    pairs = zip(series.values, came.tolist(), strict=True)
    return [_number(str(value), texts) if there else _NONE for value, there in pairs]


def _number(text: str, texts: dict[str, int]) -> int:
    return texts.setdefault(text, len(texts))


def _beside(columns: Sequence[Any], count: int) -> NDArray[np.generic]:
    return np.column_stack(columns) if columns else np.zeros((count, 0))
