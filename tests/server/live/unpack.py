"""Takes a message apart as SOCKET.md says, written without a look at the packing: the tests' own page."""

import json
import struct
from typing import Any

import numpy as np


def unpack(message: bytes) -> dict[str, Any]:
    """The header with every array put in its place."""
    (length,) = struct.unpack_from("<I", message)
    header = json.loads(message[4 : 4 + length].decode("utf-8"), parse_constant=_refuse)
    floats = np.frombuffer(message, dtype="<f4", offset=4 + length + (-(4 + length)) % 4)
    return dict(_with_arrays(header, floats))


def _refuse(name: str) -> float:
    raise AssertionError(f"{name} is no JSON")


def _with_arrays(value: Any, floats: Any) -> Any:
    if isinstance(value, dict):
        if set(value) == {"at", "n"}:
            assert 0 <= value["at"] <= value["at"] + value["n"] <= floats.size
            return floats[value["at"] : value["at"] + value["n"]]
        return {key: _with_arrays(inner, floats) for key, inner in value.items()}
    if isinstance(value, list):
        return [_with_arrays(inner, floats) for inner in value]
    return value
