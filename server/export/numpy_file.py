"""NumPy's .npz and how its waveforms are written: rows gathered in files without a name, then packed into one."""

import json
from contextlib import ExitStack
from pathlib import Path
from tempfile import TemporaryFile
from zipfile import ZIP_DEFLATED, ZIP_STORED, ZipFile

import numpy as np

from server.export.format import Export, Waves
from server.export.numpy_array import pack, put
from server.export.numpy_readings import write_readings

# Of each array with a row for each sample: its type, whether it has a column for each channel, how it is stored
# (numbers as they are, for speed).
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
        with ZipFile(path, "w") as packed:
            for name, (kind, wide, how) in _ARRAYS.items():
                shape = (count, len(columns)) if wide else (count,)
                pack(packed, name, kind, shape, how, files[name])
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
                put(packed, name, values)


NPZ = Export("npz", "NumPy", ".npz", "application/octet-stream", write_readings, write_waveforms)
