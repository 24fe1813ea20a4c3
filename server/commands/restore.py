"""`slipring restore FILE`: settings that `slipring backup` kept, put back while no service runs.

Everything is judged before anything is written; what stood there before is kept in a folder beside.
"""

import hashlib
import json
import struct
import zipfile
import zlib
from argparse import Namespace
from datetime import datetime
from pathlib import Path
from typing import Any

from server.calibration.text import parse_calibration
from server.commands.asking import data_folder
from server.commands.backup import ABOUT, FILE_MAX, FILES_MAX, FORMAT, KEPT
from server.commands.streams import say, write
from server.config import ConfigError
from server.data_folder import DataFolderError, hold
from server.notify.delivery import FILE as RECEIVERS
from server.notify.settings import parse_receivers
from server.rig_files import check_settings
from server.settings.text import parse_rig
from server.test_plan.text import parse_plan
from server.whole_file import replace_file

_DAMAGED = (zipfile.BadZipFile, zlib.error, struct.error, ValueError, EOFError, RuntimeError, OverflowError)


class RestoreError(Exception):
    """The file cannot be put back; the sentence says why and what to do."""


def run(chosen: Namespace) -> int:
    data, source = data_folder(chosen.data), Path(chosen.file)
    try:
        files = unpacked(source)
        judge(files, source)
        if chosen.look:
            _tell(data, files)
            return 0
        with hold(data):
            _put_back(data, files)
    except (RestoreError, DataFolderError) as error:
        say(f"slipring restore: {error}")
    except ConfigError as error:
        say(f"slipring restore: {error} Nothing was written.")
    except OSError as error:
        say(f"slipring restore: {error.filename or source} cannot be read or written ({error.strerror}).")
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


def judge(files: dict[str, bytes], source: Path) -> None:
    """Raises ConfigError, with the name and the line, for a file that the service would refuse."""
    for name, content in files.items():
        place = f"{source}: {name}"
        try:
            text = content.decode()
        except UnicodeDecodeError:
            raise ConfigError(place, None, "this is not UTF-8 text", "save the file as UTF-8") from None
        folder, stem = name.partition("/")[0], Path(name).stem
        if folder == "rigs":
            check_settings(parse_rig(text, place, stem))
        elif folder == "calibration":
            parse_calibration(text, place)
        elif folder == "plans":
            parse_plan(text, place)
        elif name == RECEIVERS:
            parse_receivers(text, place)


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
        is_same = path.is_file() and path.read_bytes() == content
        write(f"{'same   ' if is_same else 'replace' if path.exists() else 'new    '}  {name}\n".encode())


def _put_back(data: Path, files: dict[str, bytes]) -> None:
    before = data / f"before-restore-{datetime.now():%Y%m%d-%H%M%S}"
    written = 0
    for name, content in files.items():
        path = data / name
        if path.is_file() and path.read_bytes() == content:
            continue
        if path.is_file():
            aside = before / name
            aside.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
            replace_file(aside, path.read_bytes(), private=True)
        path.parent.mkdir(parents=True, exist_ok=True)
        replace_file(path, content, private=name == RECEIVERS)
        written += 1
    say(f"slipring: {written} of {len(files)} files were put back into {data}; the others were the same.")
    if before.exists():
        say(f"slipring: what stood there before is in {before}.")
