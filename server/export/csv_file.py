"""CSV (RFC 4180): UTF-8, a header with units, lines that end in CR LF, cells that no spreadsheet computes."""

from collections.abc import Iterable, Iterator, Sequence
from itertools import repeat
from pathlib import Path

import numpy as np

from server.export.cells import line, list_cell, number_cells, text_cell
from server.export.format import CONFIDENCES, Chunk, Export, Field, Readings, Rows, Series, Waves, utc_text

LINES_AT_ONCE = 2048


def write_readings(readings: Readings, path: Path) -> None:
    """One line an instant; behind each reading its ±, its confidence and, where it is not good, the reason."""
    with path.open("w", encoding="utf-8", newline="") as file:
        file.write(line(map(text_cell, ("utc", "utc_u95 [s]", "board_time [s]", *_titles(readings.fields)))))
        for chunk in readings.chunks():
            reasons = [text_cell(each) for each in chunk.reasons]
            for start in range(0, chunk.utc_s.size, LINES_AT_ONCE):
                file.writelines(_readings(chunk.part(slice(start, start + LINES_AT_ONCE)), readings.fields, reasons))


def _readings(chunk: Chunk, fields: Sequence[Field], reasons: Sequence[str]) -> Iterator[str]:
    """Its lines; `reasons`: as cells."""
    columns: list[Iterable[str]] = [
        map(utc_text, chunk.utc_s.tolist()),
        number_cells(chunk.utc_u95_s, 3),
        (f"{each:.6f}" for each in chunk.board_s.tolist()),
    ]
    for field in fields:
        columns += _cells(field, chunk, reasons)
    return map(line, zip(*columns, strict=True))


def _titles(fields: Sequence[Field]) -> Iterator[str]:
    for each in fields:
        unit = f" [{each.unit}]" if each.unit else ""
        yield each.id + unit
        if each.kind == "number":
            yield f"{each.id}_u95{unit}"
        if each.cut:
            yield f"{each.id}_low95{unit}"
            yield f"{each.id}_high95{unit}"
        yield f"{each.id}_confidence"
        yield f"{each.id}_reason"


def _cells(field: Field, chunk: Chunk, reasons: Sequence[str]) -> list[Iterable[str]]:
    """The columns of one reading; `reasons`: the chunk's, as cells."""
    series, none = chunk.series.get(field.id), np.full(chunk.utc_s.size, np.nan)
    cells: list[Iterable[str]] = [repeat("", chunk.utc_s.size) if series is None else _values(series)]
    ends = (None, None) if series is None else (series.low95, series.high95)
    if field.kind == "number":
        cells.append(number_cells(none if series is None else series.u95, 3))
    if field.cut:
        cells += [number_cells(none if end is None else end) for end in ends]
    if series is None:
        return [*cells, repeat("", chunk.utc_s.size), repeat("", chunk.utc_s.size)]
    return [
        *cells,
        map(CONFIDENCES.__getitem__, series.confidence.tolist()),
        map(reasons.__getitem__, series.reason.tolist()),
    ]


def _values(series: Series) -> Iterable[str]:
    if series.kind == "number":
        return number_cells(series.values)
    if series.kind == "word":
        return map(text_cell, series.values)
    return map(list_cell, series.values)


def write_waveforms(waves: Waves, path: Path) -> None:
    """One line a sample. `missing`: how many that did not come a line stands for; `clipped`: of which channels."""
    titles = ("utc_s [s]", "time_s [s]", *(each.title for each in waves.columns), "missing", "clipped")
    form = "%.6f,%.7f," + "%.9g," * len(waves.columns)
    names = [each.name for each in waves.columns]
    with path.open("w", encoding="utf-8", newline="") as file:
        file.write(line(map(text_cell, titles)))
        for rows in waves.rows():
            for start in range(0, rows.missing.size, LINES_AT_ONCE):
                file.write(_lines(rows, slice(start, start + LINES_AT_ONCE), form, names))


def _lines(rows: Rows, part: slice, form: str, names: Sequence[str]) -> str:
    numbers = np.column_stack((rows.utc_s[part], rows.time_s[part], rows.values[part]))
    missing, clipped = rows.missing[part], None if rows.clipped is None else rows.clipped[part]
    count = missing.size
    if not missing.any() and (clipped is None or not clipped.any()):  # nearly always: one text for all of them
        return (form + ",\r\n") * count % tuple(numbers.ravel().tolist())
    lines = []
    for k, row in enumerate(numbers.tolist()):
        marks = "" if clipped is None else text_cell("; ".join(names[c] for c in np.flatnonzero(clipped[k]).tolist()))
        cells = "".join("," if value != value else f"{value:.9g}," for value in row[2:])
        lines.append(f"{row[0]:.6f},{row[1]:.7f},{cells}{missing[k] or ''},{marks}\r\n")
    return "".join(lines)


CSV = Export(
    "csv", "CSV, for spreadsheets and anything else", ".csv", "text/csv; charset=utf-8", write_readings, write_waveforms
)
