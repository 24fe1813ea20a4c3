"""Numbers from `.npz`, `.wav` and `.csv` files by the names that a description uses. Nothing is interpreted."""

import csv
import wave
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from simulator.nearest import nearest
from simulator.recording import RecordingError

READERS = (".npz", ".wav", ".csv")


class RecordedFile:
    """What a file holds: `names` of arrays, columns or channels. `rate_hz` only where the file format states one."""

    def __init__(self, path: Path, arrays: dict[str, NDArray[Any]], rate_hz: float | None = None) -> None:
        self.path, self.rate_hz = path, rate_hz
        self._arrays = arrays

    @property
    def contents(self) -> str:
        """Names and shapes, for a person who writes the description."""
        return ", ".join(f"{name} {array.shape}" for name, array in self._arrays.items())

    def array(self, name: str) -> NDArray[Any]:
        if name not in self._arrays:
            what = f"the nearest is {nearest(name, self._arrays)!r}" if self._arrays else "it is empty"
            raise RecordingError(f"{self.path.name} holds no {name!r}; {what}")
        return self._arrays[name]

    def numbers(self, name: str, column: int | None = None) -> NDArray[np.float64]:
        """One row of numbers: the array itself, or one column of an array of samples x columns."""
        array = self.array(name)
        if array.ndim == 2:
            if column is None:
                raise RecordingError(
                    f"{name} has shape {array.shape}: say by `column` which of its columns, rows are samples"
                )
            if not 0 <= column < array.shape[1]:
                raise RecordingError(f"{name} has columns 0 to {array.shape[1] - 1}, not {column}")
            array = array[:, column]
        elif column is not None:
            raise RecordingError(f"{name} has shape {array.shape}: it has no columns, leave `column` away")
        try:
            return array.astype(np.float64)
        except ValueError as error:
            raise RecordingError(f"{name} in {self.path.name} is not all numbers: {error}") from None

    def number(self, name: str) -> float:
        """An array that holds a single number."""
        array = self.numbers(name)
        if array.size != 1:
            raise RecordingError(f"{name} has shape {array.shape}, one number was expected")
        return float(array.reshape(-1)[0])

    def text(self, name: str) -> str:
        array = self.array(name)
        if array.size != 1 or array.dtype.kind != "U":
            raise RecordingError(f"{name} in {self.path.name} is not one text")
        return str(array.reshape(-1)[0])


def read_file(path: Path) -> RecordedFile:
    """Read a file by its ending. RecordingError: no such file, another ending, or contents that don't fit it."""
    if not path.is_file():
        others = [other.name for other in path.parent.glob("*")] if path.parent.is_dir() else []
        hint = f"; the nearest is {nearest(path.name, others)}" if others else ""
        raise RecordingError(f"there is no file {path}{hint}")
    ending = path.suffix.lower()
    if ending not in READERS:
        raise RecordingError(f"{path.name}: the player reads {', '.join(READERS)}")
    try:
        return {".npz": _read_npz, ".wav": _read_wav, ".csv": _read_csv}[ending](path)
    except (OSError, EOFError, ValueError, wave.Error) as error:
        if isinstance(error, RecordingError):
            raise
        raise RecordingError(f"{path.name} could not be read as {ending[1:]}: {error}") from None


def _read_npz(path: Path) -> RecordedFile:
    with np.load(path, allow_pickle=False) as archive:  # a pickle could run a stranger's code
        return RecordedFile(path, {name: archive[name] for name in archive.files})


def _read_csv(path: Path) -> RecordedFile:
    """Commas, points, one line of names. Cells stay text until a channel asks for their column."""
    with path.open(newline="", encoding="utf-8-sig") as file:
        rows = [row for row in csv.reader(file) if row]
    if len(rows) < 2:
        raise RecordingError(f"{path.name}: one line of names and at least one of numbers were expected")
    names = [name.strip() for name in rows[0]]
    if len(names) == 1 and (cut := next((mark for mark in ";\t" if mark in names[0]), "")):
        cell = "semicolons" if cut == ";" else "tabs"
        raise RecordingError(f"{path.name}: its cells stand between {cell}; write commas, and points in numbers")
    for number, row in enumerate(rows[1:], 2):
        if len(row) != len(names):
            raise RecordingError(f"{path.name}, row {number}: {len(row)} cells, the first row has {len(names)} names")
    columns = zip(*rows[1:], strict=True)
    return RecordedFile(path, {name: np.array(column) for name, column in zip(names, columns, strict=True)})


_WIDTHS = {1: ("u1", 128.0, 128.0), 2: ("<i2", 0.0, 32_768.0), 4: ("<i4", 0.0, 2_147_483_648.0)}


def _read_wav(path: Path) -> RecordedFile:
    """PCM of 8, 16, 24 or 32 bits; channels are named 1, 2 ..., full scale is -1 to 1."""
    with wave.open(str(path)) as file:
        channels, width, rate_hz = file.getnchannels(), file.getsampwidth(), file.getframerate()
        raw = file.readframes(file.getnframes())
    if width == 3:  # widened to 32 bits, the new lowest byte zero
        bytes_of_3 = np.frombuffer(raw, np.uint8).reshape(-1, 3)
        raw, width = np.pad(bytes_of_3, ((0, 0), (1, 0))).tobytes(), 4
    layout, middle, full = _WIDTHS[width]
    values = (np.frombuffer(raw, layout).astype(np.float64) - middle) / full
    columns = values.reshape(-1, channels).T
    return RecordedFile(path, {str(number): column for number, column in enumerate(columns, 1)}, float(rate_hz))
