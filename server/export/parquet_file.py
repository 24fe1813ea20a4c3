"""Apache Parquet, row groups of an hour: columns with their units in the metadata of fields."""

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np

from server.export.format import CONFIDENCES, UTC_S_MAX, Chunk, Export, Field, Readings, Rows, Series, Waves

GROUP_S = 3600.0  # of samples; a group of a minute is read several times slower
GROUP_BYTES_MAX = 256 << 20  # of samples in memory: an hour of a fast board would be more, and then a group is shorter


def write_readings(readings: Readings, path: Path) -> None:
    """A row an instant; behind each reading its ±, its confidence and its reason."""
    import pyarrow as pa
    import pyarrow.parquet as pq

    schema = pa.schema(list(_fields(readings.fields)), metadata=_about(readings.about))
    with pq.ParquetWriter(path, schema, compression="zstd") as writer:
        for chunk in readings.chunks():
            writer.write_table(pa.table(list(_columns(readings.fields, chunk)), schema=schema))


def _about(about: dict[str, Any]) -> dict[str, str]:
    return {"slipring": json.dumps(about, ensure_ascii=False)}


def _fields(fields: tuple[Field, ...]) -> Iterator[Any]:
    import pyarrow as pa

    words = pa.dictionary(pa.int32(), pa.string())
    yield pa.field("utc", pa.timestamp("us", "UTC"))
    yield pa.field("utc_u95_s", pa.float64())
    yield pa.field("board_time_s", pa.float64())
    types = {"number": pa.float64(), "word": words, "list": pa.list_(pa.float64())}
    for each in fields:
        meta = {"unit": each.unit, "label": each.label}
        yield pa.field(each.id, types[each.kind], metadata=meta)
        ends = ("_low95", "_high95") if each.cut else ()
        for end in (("_u95",) if each.kind == "number" else ()) + ends:
            yield pa.field(each.id + end, pa.float64(), metadata=meta)
        yield pa.field(f"{each.id}_confidence", words)
        yield pa.field(f"{each.id}_reason", words)


def _columns(fields: tuple[Field, ...], chunk: Chunk) -> Iterator[Any]:

    yield _moments(chunk.utc_s)
    yield _numbers(chunk.utc_u95_s)
    yield _numbers(chunk.board_s)
    none = np.full(chunk.utc_s.size, np.nan)
    for field in fields:
        series = chunk.series.get(field.id)
        yield _values(field, series, chunk.utc_s.size)
        if field.kind == "number":
            yield _numbers(none if series is None else series.u95)
        for end in ((None, None) if series is None else (series.low95, series.high95)) if field.cut else ():
            yield _numbers(none if end is None else end)
        confidence = np.zeros(none.size, np.int8) if series is None else series.confidence
        yield _words(confidence.astype(np.int32), CONFIDENCES)
        yield _words(np.zeros(none.size, np.int32) if series is None else series.reason, chunk.reasons)


def _values(field: Field, series: Series | None, count: int) -> Any:
    import pyarrow as pa

    if field.kind == "number":
        return _numbers(np.full(count, np.nan) if series is None else series.values)
    came = np.zeros(count, np.bool_) if series is None else (series.confidence == 1) | (series.confidence == 2)
    values = [None] * count if series is None else series.values
    if field.kind == "word":
        texts = [str(value) if there else None for value, there in zip(values, came, strict=True)]
        return pa.array(texts, pa.string()).dictionary_encode()
    return pa.array(
        [value if there else None for value, there in zip(values, came, strict=True)], pa.list_(pa.float64())
    )


def _moments(utc_s: Any) -> Any:
    """What no calendar has is nothing."""
    import pyarrow as pa

    there = (utc_s >= 0.0) & (utc_s < UTC_S_MAX)
    whole_us = np.where(there, utc_s * 1e6, 0.0).round().astype(np.int64)
    return pa.array(whole_us, pa.timestamp("us", "UTC"), mask=~there)


def _numbers(values: Any) -> Any:
    """NaN is nothing."""
    import pyarrow as pa

    return pa.array(values, from_pandas=True)


def _words(indices: Any, words: Any) -> Any:
    """The empty word is nothing."""
    import pyarrow as pa

    return pa.DictionaryArray.from_arrays(pa.array(indices, mask=indices == 0), pa.array(words, pa.string()))


def write_waveforms(waves: Waves, path: Path) -> None:
    """A row a sample, null where none came; `missing`: how many samples a row stands for that did not come."""
    import pyarrow as pa
    import pyarrow.parquet as pq

    fields = [pa.field("utc", pa.timestamp("us", "UTC")), pa.field("time_s", pa.float64())]
    for each in waves.columns:
        meta = {"unit": each.unit, "place": each.place, "role": each.role, "delay_s": repr(each.delay_s)}
        fields.append(pa.field(each.name, pa.float32(), metadata=meta))
    fields.append(pa.field("missing", pa.int64()))
    fields += [pa.field(f"{each.name} clipped", pa.bool_()) for each in waves.columns]
    schema = pa.schema(fields, metadata=_about({**waves.about, "rate_hz": waves.rate_hz}))
    row_bytes = 24 + 5 * len(waves.columns)
    most = min(round(GROUP_S * waves.rate_hz), GROUP_BYTES_MAX // row_bytes)
    with pq.ParquetWriter(path, schema, compression="zstd") as writer:
        waiting: list[Any] = []
        for rows in waves.rows():
            waiting.append(_batch(rows, schema))
            if sum(each.num_rows for each in waiting) >= most:
                writer.write_table(pa.Table.from_batches(waiting), row_group_size=most)
                waiting = []
        if waiting:
            writer.write_table(pa.Table.from_batches(waiting), row_group_size=most)


def _batch(rows: Rows, schema: Any) -> Any:
    import pyarrow as pa

    clipped = np.zeros(rows.values.shape, np.bool_) if rows.clipped is None else rows.clipped
    return pa.record_batch(
        [
            _moments(rows.utc_s),
            pa.array(rows.time_s),
            *(_numbers(np.ascontiguousarray(each, np.float32)) for each in rows.values.T),
            pa.array(rows.missing),
            *(pa.array(np.ascontiguousarray(each)) for each in clipped.T),
        ],
        schema=schema,
    )


PARQUET = Export(
    *("parquet", "Parquet, for data tools", ".parquet", "application/vnd.apache.parquet"),
    write_readings,
    write_waveforms,
    needs=("pyarrow",),
)
