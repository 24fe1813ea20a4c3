"""One file per board in DATA/calibration. Reads and writes; what holds now is in memory, by the board's serial number.

Called by one thread at a time. A file that cannot be used is told of and not touched: a person corrects it.
"""

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from urllib.parse import quote, unquote

from server.calibration.entry import BoardCalibration, Entry, second
from server.calibration.text import TEXT_MAX, calibration_text, parse_calibration
from server.config import ConfigError
from server.settings.file import settings_text
from server.settings.key_lines import key_lines
from server.settings.whole import replace_file

SUFFIX = ".toml"
_NAME_MAX = 120  # letters of a file's name; boards with longer numbers do not keep any


class CalibrationFiles:
    """`texts`: what holds of each board, as a run keeps it; `refused`: by serial number, why a file cannot be used.

    A person's correction of a refused file is taken by `look_again`.
    """

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self._held: dict[str, BoardCalibration] = {}
        self.texts: dict[str, str] = {}
        self.refused: dict[str, ConfigError] = {}
        self._seen: dict[str, bytes] = {}  # of the refused ones, what stood in them

    def load(self) -> None:
        """Read all files; no folder, no calibrations."""
        for path in self._paths():
            self._read(path)

    def look_again(self) -> list[str]:
        """Read those again that were refused and have changed; the serial numbers of those that can be used now."""
        if not self.refused:
            return []
        changed = [path for path in self._paths() if _serial(path) in self.refused and self._changed(path)]
        for path in changed:
            self._read(path)
        return [_serial(path) for path in changed if _serial(path) not in self.refused]

    def of(self, serial: str) -> BoardCalibration:
        """What is kept of a board, without entries where there is nothing. Raises the ConfigError of a refused file."""
        if serial in self.refused:
            raise self.refused[serial]
        return self._held.get(serial) or BoardCalibration(serial)

    def all(self) -> Mapping[str, BoardCalibration]:
        """Of all boards whose files can be used."""
        return dict(self._held)

    def file(self, serial: str) -> Path:
        return self._folder / f"{quote(serial, safe='').replace('.', '%2E')}{SUFFIX}"

    def keep(self, serial: str, entry: Entry) -> BoardCalibration:
        """Add an entry; it holds from now on. Raises ConfigError, also where the disk refuses."""
        if not serial:
            what = "this board tells no serial number, so a calibration cannot be bound to it"
            raise ConfigError("", None, what, "give it one in its firmware")
        its = self.of(serial)
        return self._write(replace(its, entries=(*its.entries, entry)))

    def undo(self, serial: str, entry: Entry, utc_s: float) -> BoardCalibration:
        """Take an entry back; it stays in the file with the moment, and the one before it holds. Raises ConfigError."""
        its = self.of(serial)
        entries = tuple(replace(each, undone=second(utc_s)) if each is entry else each for each in its.entries)
        return self._write(replace(its, entries=entries))

    def _write(self, calibration: BoardCalibration) -> BoardCalibration:
        path, text = self.file(calibration.serial), calibration_text(calibration)
        if len(path.name) > _NAME_MAX or len(text) > TEXT_MAX:
            what = "the board's serial number is too long" if len(text) <= TEXT_MAX else f"{path} is full"
            raise ConfigError("", None, what, "give it a shorter one" if len(text) <= TEXT_MAX else "move it away")
        written = parse_calibration(text, str(path))
        try:
            self._folder.mkdir(parents=True, exist_ok=True)
            replace_file(path, text.encode())
        except OSError as error:
            what = f"it cannot be written ({error.strerror})"
            raise ConfigError(str(path), None, what, "make room or make the folder writable") from error
        self._hold(written)
        return written

    def _hold(self, calibration: BoardCalibration) -> None:
        self._held[calibration.serial] = calibration
        self.texts[calibration.serial] = calibration_text(calibration.holding)
        self.refused.pop(calibration.serial, None)

    def _paths(self) -> list[Path]:
        try:
            return sorted(path for path in self._folder.iterdir() if path.suffix == SUFFIX)
        except OSError:
            return []

    def _read(self, path: Path) -> None:
        serial = _serial(path)
        try:
            calibration = read_calibration(path)
            if calibration.serial != serial:
                what = f'it is of board "{calibration.serial}" and stands in a file named for "{serial}"'
                raise ConfigError(
                    str(path), _serial_line(path), what, f"name the file {self.file(calibration.serial).name}"
                )
            self._hold(calibration)
        except ConfigError as error:
            self.refused[serial], self._seen[serial] = error, _bytes(path)

    def _changed(self, path: Path) -> bool:
        return _bytes(path) != self._seen.get(_serial(path))


def read_calibration(path: Path) -> BoardCalibration:
    """Raises ConfigError, also for a file that cannot be read."""
    return parse_calibration(settings_text(path, TEXT_MAX), str(path))


def _serial(path: Path) -> str:
    return unquote(path.stem)


def _bytes(path: Path) -> bytes:
    """What stands there, as far as it is read at all."""
    try:
        with open(path, "rb") as file:
            return file.read(TEXT_MAX + 1)
    except OSError:
        return b""


def _serial_line(path: Path) -> int | None:
    return key_lines(settings_text(path, TEXT_MAX)).get("board.serial")
