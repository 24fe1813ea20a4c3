"""The settings files of all rigs: read, judged by everybody who knows more than the text does, written, undone.

Blocks on the disk: call it in a thread of its own. What is refused is refused as a ConfigError, a full disk too.
"""

from collections.abc import Callable, Collection, Iterable
from dataclasses import replace
from difflib import get_close_matches
from pathlib import Path
from typing import TypeVar

from server.alarms.contradictions import check_alarms
from server.config import ConfigError, RigSettings, RigText
from server.ingest.line import is_pty, place_of
from server.motor_check import check_motor
from server.quantities import NO_LIMITS, QUANTITIES
from server.settings.file import (
    checked_rig,
    has_previous,
    read_rig,
    remove_rig,
    rig_file,
    rig_names,
    undo_rig,
    write_rig,
)
from server.settings.text import check_name
from server.stream.as_set import as_set
from server.stream.describing import Description

_T = TypeVar("_T")
Stamp = tuple[int, int, int]  # of a file: when it was written, its size, which one it is


class RigFiles:
    """Files in `folder`. `wanted`: name -> port of a rig for this time only, whatever stands in its file."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.wanted: dict[str, str] = {}
        self._seen: dict[str, Stamp | None] = {}

    def names(self) -> list[str]:
        return rig_names(self.folder)

    def file(self, name: str) -> Path | None:
        """Where the rig's settings stand; None: nothing is kept of it."""
        path = rig_file(self.folder, name)
        return path if path.exists() else None

    def can_undo(self, name: str) -> bool:
        return has_previous(self.folder, name)

    def changed(self, name: str) -> bool:
        """Whether a person has written the file since it was last read or written here."""
        return self._stamp(name) not in (None, self._seen.get(name))

    def read(self, name: str) -> RigText:
        """The settings of a rig, on the port that was wanted at the start."""
        self._seen[name] = self._stamp(name)
        text = read_rig(self.folder, name)
        check_settings(text)
        return replace(text, settings=at_port(text.settings, self.wanted.get(name, text.settings.port)))

    def at_start(self, name: str) -> RigText:
        """The settings of a rig. Raises ConfigError for a pty of an earlier life too: its name is not its own."""
        text = self.read(name)
        if is_pty(text.settings.port) and name not in self.wanted:
            what = f"{text.settings.port} was a pty, and by now it may be another program's, so it is not opened"
            raise text.error("rig.port", what, f"write another port, or start with --rig {name}=PORT")
        return text

    def judge(self, settings: RigSettings) -> None:
        """Raises ConfigError where `new` or `write` would refuse these settings; writes nothing."""
        check_settings(checked_rig(at_port(settings, settings.port)))
        check_apart(settings.name, self.names())

    def new(self, settings: RigSettings) -> RigText:
        """Of a rig on a pty nothing is kept: at the next start its name may be a shell's."""
        settings = at_port(settings, settings.port)
        if not is_pty(settings.port):
            return self.write(settings)
        check_settings(checked_rig(settings))
        check_apart(settings.name, self.names())
        return RigText("", settings, {})

    def write(self, settings: RigSettings, of: str = "") -> RigText:
        """The settings on disk, after everybody has agreed to them; `of`: the rig whose file they were so far."""
        check_settings(checked_rig(settings))
        check_apart(settings.name, self.names())
        return self._on_disk(settings.name, "written", lambda: write_rig(self.folder, settings, of))

    def undo(self, name: str) -> RigText:
        """The settings before the last change; undone again, the ones of now."""
        if not self.can_undo(name):
            raise ConfigError("", None, f"nothing was changed in the settings of {name}", "there is nothing to undo")
        return self._on_disk(name, "brought back", lambda: self._undone(name))

    def remove(self, name: str) -> None:
        """The file is kept as NAME.toml.previous."""
        self._on_disk(name, "put away", lambda: remove_rig(self.folder, name))

    def _undone(self, name: str) -> RigText:
        text = undo_rig(self.folder, name)
        try:
            check_settings(text)
        except ConfigError:
            undo_rig(self.folder, name)
            raise
        return text

    def _on_disk(self, name: str, done: str, act: Callable[[], _T]) -> _T:
        try:
            result = act()
        except OSError as error:
            what = f"the settings of {name} cannot be {done} ({error.strerror})"
            raise ConfigError(str(self.folder), None, what, "make room or make the folder writable") from error
        self._seen[name] = self._stamp(name)
        return result

    def _stamp(self, name: str) -> Stamp | None:
        try:
            found = rig_file(self.folder, name).stat()
        except OSError:
            return None
        return found.st_mtime_ns, found.st_size, found.st_ino


def at_port(settings: RigSettings, wanted: str) -> RigSettings:
    """The same rig at a port as a person writes it, perhaps with its baud rate."""
    port, baud = place_of(wanted)
    return replace(settings, port=port, baud=settings.baud if baud is None else baud)


def check_apart(name: str, others: Iterable[str]) -> None:
    """Raises ConfigError for a name that another rig has but for capitals: its files would be that one's elsewhere."""
    for other in others:
        if other != name and other.casefold() == name.casefold():
            what = f'there is a rig "{other}" already, and many file systems take "{name}" for the same name'
            raise ConfigError("", None, what, "choose another name", "rig.name")


def check_settings(text: RigText) -> None:
    """Raises ConfigError for a motor that cannot be, limits of what is not measured, alarms that contradict
    themselves."""
    check_motor(text)
    keys = [quantity.key for quantity in QUANTITIES]
    for limit in text.settings.limits:
        key = limit.reading.partition(".")[0]
        if key not in keys:
            near = get_close_matches(key, keys, n=1, cutoff=0.5)
            instead = f"write {near[0]}" if near else "write the key of a quantity, such as current_rms_a"
            raise text.error(f"limits.{limit.reading}", f'there is no reading "{key[:40]}"', instead)
        if key in NO_LIMITS:
            what = f"{key} is {NO_LIMITS[key]} and can have no limit"
            raise text.error(f"limits.{limit.reading}", what, "set limits of a number, such as current_rms_a")
    check_alarms(text)


def check_channels(settings: RigSettings, board: Description | None) -> None:
    """Raises ConfigError for what cannot be meant of the channels of the board that is there, if one is."""
    for key, what, instead in as_set(board.channels, settings.channels)[1] if board else ():
        raise ConfigError("", None, what, instead, key)


def check_change(
    now: RigSettings, wanted: RigSettings, demo: bool, board: Description | None, names: Collection[str]
) -> None:
    """Raises ConfigError for what this rig cannot become, whatever its file says; `names`: of all rigs."""
    if demo:
        taken = replace(now, speed_unit=wanted.speed_unit, wires=wanted.wires, alarms=wanted.alarms)
        if replace(taken, calling=wanted.calling) != wanted:
            what, instead = f"{now.name} is a demo rig and keeps no settings", "add a rig for a board of your own"
            raise ConfigError("", None, what, instead)
        check_alarms(checked_rig(wanted))
        return
    if wanted.name != now.name:
        check_name(wanted.name)
        if wanted.name in names:
            what = f'there is a rig "{wanted.name}" already'
            raise ConfigError("", None, what, "choose another name", "rig.name")
        check_apart(wanted.name, names)
    check_channels(wanted, board)
