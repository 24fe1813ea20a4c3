"""One file per rig in DATA/rigs. Writes beside, syncs, renames, syncs the folder; keeps one previous version."""

import os
from dataclasses import replace
from pathlib import Path

from server.config import ConfigError, RigSettings, RigText
from server.settings.edit import edited
from server.settings.tables import TEXT_MAX
from server.settings.text import NAME, check_name, parse_rig, rig_text
from server.whole_file import replace_file as _replace
from server.whole_file import sync_folder as _sync_folder

SUFFIX = ".toml"


def rig_file(folder: Path, name: str) -> Path:
    return folder / f"{name}{SUFFIX}"


def rig_names(folder: Path) -> list[str]:
    """Names of all rigs with a settings file, sorted; no folder, no rigs."""
    try:
        found = [path.stem for path in folder.iterdir() if path.suffix == SUFFIX and NAME.fullmatch(path.stem)]
    except OSError:
        return []
    return sorted(found)


def read_rig(folder: Path, name: str) -> RigText:
    """Raises ConfigError, also for a file that cannot be read."""
    path = rig_file(folder, name)
    return parse_rig(settings_text(path), str(path), name)


def settings_text(path: Path, text_max: int = TEXT_MAX) -> str:
    """The text of a settings file, whoever wrote it. Raises ConfigError; never waits, never reads more than it may."""
    return text_of(settings_bytes(path, text_max), path)


def settings_bytes(path: Path, text_max: int) -> bytes:
    """What stands in a settings file. Raises ConfigError; never waits, never reads more than it may."""
    try:
        if not path.is_file() and path.exists():  # opening a pipe would wait for whoever writes into it
            raise ConfigError(str(path), None, "this is no file", "put a text file there or remove it")
        with open(path, "rb") as file:
            content = file.read(text_max + 1)
        if len(content) > text_max:
            raise ConfigError(str(path), None, f"it is longer than {text_max} bytes", "keep only settings in it")
        return content
    except OSError as error:
        raise ConfigError(
            str(path), None, f"it cannot be read ({error.strerror})", "make it readable for you"
        ) from error


def text_of(content: bytes, path: Path) -> str:
    """The text of what stands in the file. Raises ConfigError."""
    try:
        return content.decode()
    except UnicodeDecodeError as error:
        line = error.object[: error.start].count(b"\n") + 1
        raise ConfigError(str(path), line, "this is not UTF-8 text", "save the file as UTF-8") from None


def checked_rig(settings: RigSettings) -> RigText:
    """The settings as they would be read back from their file. Raises ConfigError."""
    check_name(settings.name)
    return parse_rig(rig_text(settings), "", settings.name)


def write_rig(folder: Path, settings: RigSettings, of: str = "") -> RigText:
    """Write the rig's file; what stood there becomes NAME.toml.previous. Returns what was written, as read.

    A file that can be read is changed where it must, so that its comments stay; `of`: the rig under whose name it
    stands so far, where that is another. Raises ConfigError and writes nothing if the settings could not be read
    back; OSError if the disk refuses.
    """
    checked_rig(settings)
    path = rig_file(folder, settings.name)
    try:
        text = edited(settings_text(rig_file(folder, of or settings.name)), of or settings.name, settings)
    except ConfigError:  # there is none, or it cannot be read
        text = rig_text(settings)
    written = parse_rig(text, str(path), settings.name)
    folder.mkdir(parents=True, exist_ok=True)
    if _could_be_settings(path) and path.read_bytes() == text.encode():
        return written  # no change, and the one before stays to be undone
    keep_previous(path)
    _replace(path, text.encode())
    return written


def keep_previous(path: Path) -> None:
    """What stands there is kept beside, and stays until it is written over. Raises OSError."""
    if _could_be_settings(path):
        _replace(previous_file(path), path.read_bytes())
    elif os.path.lexists(path):
        os.replace(path, previous_file(path))


def remove_rig(folder: Path, name: str) -> None:
    """The rig is gone at the next start; its file is kept as NAME.toml.previous. Nothing happens if there is none."""
    path = rig_file(folder, name)
    if path.exists():
        os.replace(path, previous_file(path))
        _sync_folder(folder)


def has_previous(folder: Path, name: str) -> bool:
    """Whether there is a file that `undo_rig` would bring back."""
    return previous_file(rig_file(folder, name)).is_file()


def undo_rig(folder: Path, name: str) -> RigText:
    """NAME.toml and NAME.toml.previous change places, so that undoing again does it again. Returns what holds now.

    Raises ConfigError, and changes nothing, if the previous file cannot be used; OSError if the disk refuses.
    """
    path = rig_file(folder, name)
    previous, beside = previous_file(path), path.with_name(path.name + ".undone")
    text = settings_text(previous)
    before = replace(parse_rig(text, str(previous), name), file=str(path))
    if _could_be_settings(path):
        _replace(beside, path.read_bytes())
    os.replace(previous, path)  # from here on it is undone, whatever happens
    if beside.exists():
        os.replace(beside, previous)
    _sync_folder(folder)
    return before


def _could_be_settings(path: Path) -> bool:
    """A file that may be read whole; a pipe, a folder or an endless file may not."""
    return path.is_file() and path.stat().st_size <= TEXT_MAX


def previous_file(path: Path) -> Path:
    return path.with_name(path.name + ".previous")
