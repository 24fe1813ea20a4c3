"""The folder that holds everything the service keeps: rigs/ (settings), runs/ (recordings), secret/ (who may come in).

One service at a time works in it. The token lets scripts in: who can read the file may do everything.
"""

import os
import re
import secrets
import stat
import sys
import time
from contextlib import suppress
from pathlib import Path
from typing import TextIO

from server.whole_file import locked, replace_file

TOKEN_BYTES = 32  # 256 bits
_TOKEN = re.compile(rb"[!-~]{32,}\s*")  # of our own making it is longer; a person may have written one


class DataFolderError(Exception):
    """The folder cannot be used; the sentence says why and what to do."""


def default_data_folder() -> Path:
    """Where a program keeps a person's data on this system; XDG Base Directory Specification on Linux."""
    home = Path.home()
    if sys.platform == "darwin":
        return home / "Library" / "Application Support" / "Slipring"
    if os.name == "nt":
        return Path(os.environ.get("LOCALAPPDATA") or home / "AppData" / "Local") / "Slipring"
    wanted = Path(os.environ.get("XDG_DATA_HOME", ""))
    return (wanted if wanted.is_absolute() else home / ".local" / "share") / "slipring"


def make_folder(data: Path) -> None:
    """Raises DataFolderError. A folder that we make is for its owner only; one that exists is left as it is."""
    try:
        data.mkdir(mode=0o700, parents=True, exist_ok=True)
    except OSError as error:
        raise DataFolderError(f"{data} cannot be made ({error.strerror}); choose another with --data DIR.") from error


def hold(data: Path) -> TextIO:
    """Keep other services out of the folder for as long as the returned file is open. Raises DataFolderError."""
    make_folder(data)
    path = data / "in-use"
    try:
        file = open(path, "a+", encoding="utf-8")  # noqa: SIM115  # stays open on purpose: it is the lock
    except OSError as error:
        raise DataFolderError(
            f"{data} cannot be written ({error.strerror}); choose another with --data DIR."
        ) from error
    if not locked(file):
        file.seek(0)
        who = file.read().strip() or "another process"
        file.close()
        raise DataFolderError(f"{data} is in use by {who}; stop that service or choose another folder with --data DIR.")
    say_who(file)
    return file


def say_who(file: TextIO, address: str = "") -> None:
    """Write into the held file who holds it, for the second service to tell."""
    file.seek(0)
    file.truncate(0)
    at = f" at {address}" if address else ""
    file.write(f"process {os.getpid()}{at} since {time.strftime('%Y-%m-%d %H:%M:%S')}\n")
    file.flush()


def give_to_owner(folder: Path) -> None:
    """What root made below it is given to the folder's owner, as the service of the unit could not read it otherwise.

    Who is not root gives nothing. What has another name elsewhere stays: it may be none of ours. Raises OSError.
    """
    if sys.platform == "win32" or os.geteuid() != 0:
        return
    owner = folder.stat()
    for _, folders, files, at in os.fwalk(folder.resolve()):  # systemd makes a link of it, which would not be followed
        for name in (*folders, *files):
            with suppress(FileNotFoundError):  # of a service that runs
                its = os.stat(name, dir_fd=at, follow_symlinks=False)
                if its.st_uid == 0 and (stat.S_ISDIR(its.st_mode) or its.st_nlink == 1):
                    os.chown(name, owner.st_uid, owner.st_gid, dir_fd=at, follow_symlinks=False)


def token_file(data: Path) -> Path:
    """The file with the token. It is made if it is missing or damaged, or if others could read it.

    Raises DataFolderError.
    """
    path = secret_folder(data) / "token"
    try:
        if not _holds_secret(path):
            replace_file(path, secrets.token_urlsafe(TOKEN_BYTES).encode("ascii"), private=True)
    except OSError as error:
        raise _unusable(path, error) from error
    return path


def secret_folder(data: Path) -> Path:
    """The folder of what nobody but its owner may read. Raises DataFolderError."""
    make_folder(data)
    folder = data / "secret"
    try:
        folder.mkdir(mode=0o700, exist_ok=True)
        folder.chmod(0o700)
    except OSError as error:
        raise _unusable(folder, error) from error
    return folder


def is_private(path: Path) -> bool:
    """Whether its owner alone may read it. Raises OSError."""
    return os.name != "posix" or not path.stat().st_mode & 0o077


def _unusable(path: Path, error: OSError) -> DataFolderError:
    return DataFolderError(
        f"{path} cannot be read or written ({error.strerror}); choose another folder with --data DIR."
    )


def _holds_secret(path: Path) -> bool:
    """Whether a whole token is in it that its owner alone may read. Raises OSError."""
    return path.exists() and is_private(path) and _TOKEN.fullmatch(path.read_bytes()) is not None


def held_address(data: Path) -> str:
    """Where the service of this folder says that its page is; empty: none has said so."""
    try:
        said = (data / "in-use").read_text(encoding="utf-8", errors="replace")
    except OSError:
        return ""
    found = re.search(r" at (http://127\.0\.0\.1:[0-9]+)/ since ", said)
    return found[1] if found else ""
