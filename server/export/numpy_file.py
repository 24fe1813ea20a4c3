"""NumPy's .npz of waveforms: rows gathered in files without a name, then packed into one."""

import json
from contextlib import ExitStack
from pathlib import Path
from tempfile import TemporaryFile
from typing import IO, Any
from zipfile import ZIP_DEFLATED, ZIP_STORED, ZipFile, ZipInfo

import numpy as np

from server.export.format import Export, Waves

_AT_ONCE = 1 << 20
_LEVEL = 1  # of the compression of marks, which are nearly all alike; numbers are stored as they are, for speed
# Of each array with a row for each sample: its type, whether it has a column for each channel, how it is stored.
_ARRAYS: dict[str, tuple[type, bool, int]] = {
    "time_s": (np.float64, False, ZIP_STORED),
    "values": (np.float32, True, ZIP_STORED),
    "missing": (np.int32, False, ZIP_DEFLATED),
    "clipped": (np.bool_, True, ZIP_DEFLATED),
}
_MISSING_MAX = np.iinfo(np.int32).max


def write_waveforms(waves: Waves, path: Path) -> None:
    """`values` (rows, channels) with NaN where no sample came, `missing`, `clipped`, `time_s`, names and units.

    `clock_time_s`, `clock_utc_s`: points between which UTC runs evenly with `time_s`.
    """
    columns, clock, count = waves.columns, list[tuple[float, float]](), 0
    with ExitStack() as stack:
        files = {name: stack.enter_context(TemporaryFile(dir=path.parent)) for name in _ARRAYS}
        for rows in waves.rows():
            clipped = np.zeros(rows.values.shape, np.bool_) if rows.clipped is None else rows.clipped
            parts = (rows.time_s, rows.values, np.minimum(rows.missing, _MISSING_MAX), clipped)
            for (name, (kind, _, _)), part in zip(_ARRAYS.items(), parts, strict=True):
                files[name].write(np.ascontiguousarray(part, kind).tobytes())
            clock += [(float(rows.time_s[k]), float(rows.utc_s[k])) for k in (0, -1)]
            count += rows.missing.size
        with ZipFile(path, "w", compresslevel=_LEVEL) as packed:
            for name, (kind, wide, how) in _ARRAYS.items():
                shape = (count, len(columns)) if wide else (count,)
                _pack(packed, name, kind, shape, how, files[name])
            for name, values in (
                ("clock_time_s", [time_s for time_s, _ in clock]),
                ("clock_utc_s", [utc_s for _, utc_s in clock]),
                ("names", [each.name for each in columns]),
                ("units", [each.unit for each in columns]),
                ("places", [each.place for each in columns]),
                ("roles", [each.role for each in columns]),
                ("delays_s", [each.delay_s for each in columns]),
                ("rate_hz", waves.rate_hz),
                ("about", json.dumps(waves.about, ensure_ascii=False)),
            ):
                with packed.open(f"{name}.npy", "w") as file:
                    np.lib.format.write_array(file, np.array(values), allow_pickle=False)


def _pack(packed: ZipFile, name: str, kind: type, shape: tuple[int, ...], how: int, rows: IO[bytes]) -> None:
    """An array whose rows lie in a file."""
    head: dict[str, Any] = {"descr": np.dtype(kind).str, "fortran_order": False, "shape": shape}
    info = ZipInfo(f"{name}.npy", date_time=(1980, 1, 1, 0, 0, 0))
    info.compress_type = how
    with packed.open(info, "w", force_zip64=True) as file:
        np.lib.format.write_array_header_2_0(file, head)
        rows.seek(0)
        while data := rows.read(_AT_ONCE):
            file.write(data)


NPZ = Export("npz", "NumPy, waveforms", ".npz", "application/octet-stream", waveforms=write_waveforms)
