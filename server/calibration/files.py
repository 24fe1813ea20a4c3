"""One file per board in DATA/calibration. Reads and writes; what holds now is in memory, by the board's serial number.

Called by one thread at a time. A person may write there too, at any time: before anything is written it is looked
whether the file still is what was read. One that cannot be used is told of and not touched: a person corrects it.
"""

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from urllib.parse import quote, unquote

from server.calibration.edit import added, taken_back
from server.calibration.entry import BoardCalibration, Entry, Stated, What, second
from server.calibration.text import TEXT_MAX, calibration_text, parse_calibration
from server.config import ConfigError
from server.settings.file import settings_bytes, text_of
from server.settings.key_lines import key_lines
from server.whole_file import replace_file

SUFFIX = ".toml"
_NAME_MAX = 120  # letters of a file's name; boards with longer numbers do not keep any


class CalibrationFiles:
    """`texts`: what holds of each board, as a run keeps it; `refused`: by serial number, why a file cannot be used.

    What was read of a file before it was refused goes on holding. What a person writes is taken by `look_again`.
    """

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self._held: dict[str, BoardCalibration] = {}
        self.texts: dict[str, str] = {}
        self.refused: dict[str, ConfigError] = {}
        self._seen: dict[str, bytes] = {}  # what stood in the file when it was last read or written
        self._missed: set[str] = set()  # files that were not there at the last look

    def load(self) -> None:
        """Read all files; no folder, no calibrations."""
        for path in (self._paths() or {}).values():
            self._read(path)

    def look_again(self) -> list[str]:
        """Read what a person has written; the serial numbers of the files that are others now or are gone.

        A file is gone if it was not there twice: some editors put the old one away before they write the new one.
        """
        paths = self._paths()
        if paths is None:  # a disk that is not there has not been emptied by a person
            return []
        changed = [serial for serial, path in paths.items() if self._changed(serial, path)]
        for serial in changed:
            self._read(paths[serial])
        missing = self._seen.keys() - paths.keys()
        gone = sorted(missing & self._missed)
        for serial in gone:
            self._forget(serial)
        self._missed = missing - set(gone)
        return [*changed, *gone]

    def of(self, serial: str) -> BoardCalibration:
        """What is kept of a board, without entries where there is nothing. Raises the ConfigError of a refused file."""
        if serial in self.refused:
            raise self.refused[serial]
        return self._held.get(serial) or BoardCalibration(serial)

    def all(self) -> Mapping[str, BoardCalibration]:
        """Of all boards whose files can be used."""
        return {serial: its for serial, its in self._held.items() if serial not in self.refused}

    def file(self, serial: str) -> Path:
        return self._folder / f"{quote(serial, safe='').replace('.', '%2E')}{SUFFIX}"

    def keep(self, serial: str, entry: Entry) -> BoardCalibration:
        """Add an entry to what stands in the file now; it holds from now on. Raises ConfigError, also of the disk."""
        if not serial:
            what = "this board tells no serial number, so a calibration cannot be bound to it"
            raise ConfigError("", None, what, "give it one in its firmware")
        its, file = self._as_it_stands(serial), str(self.file(serial))
        wanted = replace(its, entries=(*its.entries, entry))
        return self._write(serial, added(self._text(its), file, wanted))

    def undo(self, serial: str, what: What, channel: Stated, utc_s: float) -> Entry | None:
        """Take the newest back that holds in the file now, and give it; None: none does. Raises ConfigError.

        It stays in the file with the moment, and the one before it holds.
        """
        its, file = self._as_it_stands(serial), str(self.file(serial))
        entry = its.holds(what, channel)
        if entry is None:
            return None
        number = next(k for k, each in enumerate(its.entries) if each is entry)
        undone = replace(entry, undone=second(utc_s))
        wanted = replace(its, entries=(*its.entries[:number], undone, *its.entries[number + 1 :]))
        self._write(serial, taken_back(self._text(its), file, wanted, number))
        return entry

    def _as_it_stands(self, serial: str) -> BoardCalibration:
        """What stands in the board's file at this moment. Raises ConfigError where it cannot be read."""
        paths = self._paths()
        if paths is not None and serial not in paths:
            self._forget(serial)
        elif paths is not None and self._changed(serial, paths[serial]):
            self._read(paths[serial])
        return self.of(serial)

    def _text(self, its: BoardCalibration) -> str:
        """What was read of a board's file, or how a new one begins."""
        return self._seen[its.serial].decode() if its.serial in self._seen else calibration_text(its)

    def _write(self, serial: str, text: str) -> BoardCalibration:
        path, content = self.file(serial), text.encode()
        if len(path.name) > _NAME_MAX or len(content) > TEXT_MAX:
            what = "the board's serial number is too long" if len(content) <= TEXT_MAX else f"{path} is full"
            raise ConfigError("", None, what, "give it a shorter one" if len(content) <= TEXT_MAX else "move it away")
        written = parse_calibration(text, str(path))
        try:
            self._folder.mkdir(parents=True, exist_ok=True)
            replace_file(path, content)
        except OSError as error:
            what = f"it cannot be written ({error.strerror})"
            raise ConfigError(str(path), None, what, "make room or make the folder writable") from error
        self._seen[serial] = content
        self._hold(written)
        return written

    def _hold(self, calibration: BoardCalibration) -> None:
        self._held[calibration.serial] = calibration
        self.texts[calibration.serial] = calibration_text(calibration.holding)
        self.refused.pop(calibration.serial, None)

    def _forget(self, serial: str) -> None:
        """Its file is gone: nothing is calibrated."""
        if serial in self._held:
            self._hold(BoardCalibration(serial))
        self.refused.pop(serial, None)
        self._seen.pop(serial, None)

    def _paths(self) -> dict[str, Path] | None:
        """The files by serial number; of two for one board, the one that is written here. None: there is no folder."""
        try:
            found = sorted(path for path in self._folder.iterdir() if path.suffix == SUFFIX)
        except OSError:
            return None
        return {_serial(path): path for path in sorted(found, key=lambda path: path == self.file(_serial(path)))}

    def _read(self, path: Path) -> None:
        serial = _serial(path)
        self._seen[serial] = b""
        try:
            content = self._seen[serial] = settings_bytes(path, TEXT_MAX)
            text = text_of(content, path)
            calibration = parse_calibration(text, str(path))
            if calibration.serial != serial:
                what = f'it is of board "{calibration.serial}" and stands in a file named for "{serial}"'
                instead = f"name the file {self.file(calibration.serial).name}"
                raise ConfigError(str(path), key_lines(text).get("board.serial"), what, instead)
            self._hold(calibration)
        except ConfigError as error:
            self.refused[serial] = error

    def _changed(self, serial: str, path: Path) -> bool:
        try:
            return settings_bytes(path, TEXT_MAX) != self._seen.get(serial)
        except ConfigError:
            return bool(self._seen.get(serial, b"?"))


def _serial(path: Path) -> str:
    return unquote(path.stem)
