"""`slipring backup FILE`: all settings of a service in one file, to be put back by `slipring restore FILE`.

Recordings are not in it, nor who may come in; receivers of alarms only if asked for, as secrets may stand there.
"""

import hashlib
import io
import json
import re
import zipfile
from argparse import Namespace
from datetime import UTC, datetime
from pathlib import Path

from server import VERSION
from server.commands.asking import data_folder
from server.commands.streams import say
from server.notify.delivery import FILE as RECEIVERS
from server.whole_file import replace_file

ABOUT = "slipring-backup.json"
FORMAT = 1
FOLDERS = ("rigs", "calibration", "plans")
KEPT = re.compile(rf"(?:{'|'.join(FOLDERS)})/[^/\\\x00]{{1,200}}\.toml|{re.escape(RECEIVERS)}")
FILE_MAX = 1_000_000  # bytes; the longest settings file that is read
FILES_MAX = 1000


def run(chosen: Namespace) -> int:
    data, target = data_folder(chosen.data), Path(chosen.file)
    if target.exists():
        say(f"slipring backup: {target} is there already, and nothing is written over it; choose another name.")
        return 1
    if not target.absolute().parent.is_dir():
        say(f"slipring backup: there is no folder {target.parent}; make it, or choose another one.")
        return 1
    try:
        found = settings_files(data, chosen.with_secrets)
        if not found:
            say(f"slipring backup: {data} holds no settings; give the service's data folder with --data DIR.")
            return 1
        replace_file(target, packed(found), private=True)
    except OSError as error:
        say(f"slipring backup: {error.filename or target} cannot be read or written ({error.strerror}).")
        return 1
    say(f"slipring: {_files(len(found))} in {target}; slipring restore {target} puts them back.")
    if (data / RECEIVERS).exists() and not chosen.with_secrets:
        say(f"slipring: {RECEIVERS} is not in it, as secrets may stand there; --with-secrets takes it along.")
    return 0


def settings_files(data: Path, with_secrets: bool) -> dict[str, bytes]:
    """What is kept, by its name in the data folder. Raises OSError."""
    paths = [path for folder in FOLDERS for path in sorted((data / folder).glob("*.toml"))]
    paths += [data / RECEIVERS] if with_secrets else []
    files = [path for path in paths if path.is_file() and path.stat().st_size <= FILE_MAX]
    return {path.relative_to(data).as_posix(): path.read_bytes() for path in files}


def packed(files: dict[str, bytes]) -> bytes:
    """A zip of these files, with what it is and a checksum of each."""
    sums = {name: hashlib.sha256(content).hexdigest() for name, content in files.items()}
    about = {"format": FORMAT, "version": VERSION, "made": datetime.now(UTC).isoformat(timespec="seconds")}
    written = io.BytesIO()
    with zipfile.ZipFile(written, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr(ABOUT, json.dumps({**about, "sha256": sums}, indent=1))
        for name, content in files.items():
            archive.writestr(name, content)
    return written.getvalue()


def _files(count: int) -> str:
    return "one file of settings is" if count == 1 else f"{count} files of settings are"
