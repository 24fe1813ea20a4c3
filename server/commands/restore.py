"""`slipring restore FILE`: settings that `slipring backup` kept, put back while no service runs.

Everything is judged before anything is written; what stood there before is kept in a folder beside.
"""

import hashlib
import json
import os
import shutil
import struct
import zipfile
import zlib
from argparse import Namespace
from contextlib import suppress
from datetime import datetime
from pathlib import Path
from typing import Any

from server.calibration.text import parse_calibration
from server.commands.asking import data_folder
from server.commands.backup import ABOUT, FILE_MAX, FILES_MAX, FORMAT, KEPT
from server.commands.streams import say, write
from server.config import ConfigError
from server.data_folder import DataFolderError, give_to_owner, hold
from server.notify.delivery import FILE as RECEIVERS
from server.notify.settings import parse_receivers
from server.rig_files import check_apart, check_settings
from server.settings.plain import escaped
from server.settings.text import check_name, parse_rig
from server.test_plan.text import parse_plan
from server.whole_file import replace_file, sync_folder, write_beside

_NAMED_MAX = 10  # files in a sentence
_DAMAGED = (zipfile.BadZipFile, zlib.error, struct.error, ValueError, EOFError, RuntimeError, OverflowError)


class RestoreError(Exception):
    """The file cannot be put back; the sentence says why and what to do."""


def run(chosen: Namespace) -> int:
    data, source = data_folder(chosen.data), Path(chosen.file)
    try:
        files = unpacked(source)
        judge(files, source, data)
        if chosen.look:
            _tell(data, files)
            return 0
        with hold(data):
            try:
                _put_back(data, files)
            finally:
                give_to_owner(data)
    except (RestoreError, DataFolderError) as error:
        say(f"slipring restore: {escaped(str(error))}")
    except ConfigError as error:
        say(f"slipring restore: {escaped(str(error))} Nothing was written.")
    except OSError as error:
        place = error.filename or source
        say(f"slipring restore: {place} cannot be read or written ({error.strerror}); nothing was put back.")
    else:
        return 0
    return 1


def unpacked(source: Path) -> dict[str, bytes]:
    """The files of a backup by their names. Raises RestoreError; OSError where it cannot be read."""
    try:
        with zipfile.ZipFile(source) as archive:
            members = archive.infolist()
            if len(members) > FILES_MAX:
                raise RestoreError(f"{source} holds {len(members)} files, which is no backup of settings.")
            files = {member.filename: _content(archive, member, source) for member in members}
    except _DAMAGED:
        raise RestoreError(f"{source} is no backup, or it is damaged; give a file that slipring backup made.") from None
    about = _about(files.pop(ABOUT, b""), source)
    for name, content in files.items():
        if not KEPT.fullmatch(name) or ".." in name:
            raise RestoreError(f"{source} holds {name[:60]!r}, which is no settings file; nothing was written.")
        if about["sha256"].get(name) != hashlib.sha256(content).hexdigest():
            raise RestoreError(f"{source} is damaged at {name}; nothing was written. Take an older backup.")
    if missing := about["sha256"].keys() - files.keys():
        raise RestoreError(f"{source} is damaged: {min(missing)} is not in it; nothing was written.")
    return files


def judge(files: dict[str, bytes], source: Path, data: Path) -> None:
    """Raises ConfigError, with the name and the line, for a file that the service would refuse."""
    rigs = [Path(name).stem for name in files if name.startswith("rigs/")]
    rigs += [path.stem for path in (data / "rigs").glob("*.toml")]
    for name, content in files.items():
        place = f"{source}: {name}"
        try:
            text = content.decode()
        except UnicodeDecodeError:
            raise ConfigError(place, None, "this is not UTF-8 text", "save the file as UTF-8") from None
        folder, stem = name.partition("/")[0], Path(name).stem
        if folder in ("rigs", "plans"):
            _check_name(stem, rigs if folder == "rigs" else [], place)
        if folder == "rigs":
            check_settings(parse_rig(text, place, stem))
        elif folder == "calibration":
            parse_calibration(text, place)
        elif folder == "plans":
            parse_plan(text, place)
        elif name == RECEIVERS:
            parse_receivers(text, place)


def _check_name(name: str, others: list[str], place: str) -> None:
    try:
        check_name(name)
        check_apart(name, others)
    except ConfigError as error:
        raise ConfigError(place, None, error.what, error.instead) from None


def _content(archive: zipfile.ZipFile, member: zipfile.ZipInfo, source: Path) -> bytes:
    if member.compress_type not in (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED):
        raise zipfile.BadZipFile
    with archive.open(member) as file:
        content = file.read(FILE_MAX + 1)  # whatever the file says of its own length
    if len(content) > FILE_MAX:
        raise RestoreError(f"{source} holds {member.filename[:60]!r} of more than {FILE_MAX} bytes; it is no backup.")
    return content


def _about(content: bytes, source: Path) -> dict[str, Any]:
    try:
        about = json.loads(content)
        known = about["format"] == FORMAT
        if isinstance(about["sha256"], dict) and known:
            return dict(about)
        later = f"of format {about['format']}, by Slipring {str(about['version'])[:20]}"
    except (ValueError, KeyError, TypeError, RecursionError):
        raise RestoreError(f"{source} is no backup of Slipring; give a file that slipring backup made.") from None
    raise RestoreError(f"{source} is {later}; this Slipring knows format {FORMAT}, so install that one.")


def _tell(data: Path, files: dict[str, bytes]) -> None:
    for name, content in files.items():
        path = data / name
        done = "same   " if _is_same(path, content) else "replace" if path.exists() else "new    "
        write(f"{done}  {escaped(name)}\n".encode())


def _put_back(data: Path, files: dict[str, bytes]) -> None:
    """All new files are on the disk before the first takes its place. Raises RestoreError; OSError: nothing is
    replaced."""
    before = data / f"before-restore-{datetime.now():%Y%m%d-%H%M%S}"
    changed = {data / name: content for name, content in files.items() if not _is_same(data / name, content)}
    is_ours, beside, placed = not before.exists(), dict[Path, Path](), list[Path]()
    try:
        for path, content in changed.items():
            if path.is_file():
                aside = before / path.relative_to(data)
                aside.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
                replace_file(aside, path.read_bytes(), private=True)
            path.parent.mkdir(parents=True, exist_ok=True)
            beside[path] = write_beside(path, content, private=path.name == RECEIVERS)
        for path, ready in beside.items():
            os.replace(ready, path)
            placed.append(path)
            sync_folder(path.parent)
    except OSError as error:
        if not placed and is_ours:
            shutil.rmtree(before, ignore_errors=True)  # copies of what still stands there
        if not placed:
            raise
        raise RestoreError(_half(error, data, before, placed, len(changed))) from None
    finally:
        for ready in beside.values():
            with suppress(OSError):
                ready.unlink(missing_ok=True)
    say(f"slipring: {len(changed)} of {len(files)} files were put back into {data}; the others were the same.")
    if before.exists():
        say(f"slipring: what stood there before is in {before}.")


def _is_same(path: Path, content: bytes) -> bool:
    return path.is_file() and path.read_bytes() == content


def _half(error: OSError, data: Path, before: Path, placed: list[Path], of: int) -> str:
    names = ", ".join(str(path.relative_to(data)) for path in placed[:_NAMED_MAX])
    more = f" and {len(placed) - _NAMED_MAX} more" if len(placed) > _NAMED_MAX else ""
    former = f"; what stood there before is in {before}" if before.exists() else ""
    place = error.filename2 or error.filename or data
    return (
        f"{place} cannot be written ({error.strerror}); {len(placed)} of {of} files "
        f"were put back ({names}{more}){former}. "
        "Mend that and restore again."
    )
