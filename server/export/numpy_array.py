"""Arrays of NumPy in a .npz: large ones whose rows lie in a file, and small ones."""

from typing import IO, Any
from zipfile import ZipFile, ZipInfo

import numpy as np

_AT_ONCE = 1 << 20


def pack(packed: ZipFile, name: str, kind: type, shape: tuple[int, ...], how: int, rows: IO[bytes]) -> None:
    """An array whose rows lie in a file, which is closed and so takes no room any more."""
    head: dict[str, Any] = {"descr": np.dtype(kind).str, "fortran_order": False, "shape": shape}
    info = ZipInfo(f"{name}.npy", date_time=(1980, 1, 1, 0, 0, 0))
    info.compress_type = how
    with packed.open(info, "w", force_zip64=True) as file:
        np.lib.format.write_array_header_2_0(file, head)
        rows.seek(0)
        while data := rows.read(_AT_ONCE):
            file.write(data)
    rows.close()


def put(packed: ZipFile, name: str, values: Any, kind: type | None = None) -> None:
    """A small array, of anything that NumPy makes one of without Python's objects in it."""
    with packed.open(f"{name}.npy", "w") as file:
        np.lib.format.write_array(file, np.array(values, kind), allow_pickle=False)
