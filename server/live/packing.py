"""One message for a viewer: a JSON header and, behind it, the float32 arrays that the header names (SOCKET.md).

Pure. Assumes that every float outside an array is finite; a NaN in an array means "no value".
"""

import json
from collections.abc import Mapping
from struct import Struct

import numpy as np
from numpy.typing import NDArray

_LENGTH = Struct("<I")
_FLOAT32 = np.dtype("<f4")


def pack(message: Mapping[str, object]) -> bytes:
    """The message with each numpy array in it replaced by `{"at", "n"}` and put behind the header.

    Raises ValueError where a float of the header is not finite, TypeError where something is no JSON.
    """
    arrays: list[NDArray[np.float32]] = []
    at = 0

    def placed(value: object) -> dict[str, int]:
        nonlocal at
        if not isinstance(value, np.ndarray):
            raise TypeError(f"{type(value).__name__} cannot be packed")
        arrays.append(np.ascontiguousarray(value, dtype=_FLOAT32))
        place = {"at": at, "n": value.size}
        at += value.size
        return place

    header = json.dumps(message, default=placed, allow_nan=False, ensure_ascii=False, separators=(",", ":"))
    raw = header.encode(errors="replace")  # half a surrogate pair is no text
    padding = -(_LENGTH.size + len(raw)) % 4
    return b"".join((_LENGTH.pack(len(raw)), raw, bytes(padding), *(array.data for array in arrays)))
