"""A run as one file, to be sent and taken in elsewhere: a zip without compression, with the SHA-256 of each file in it.

What comes from elsewhere is taken for hostile: only names that a run's folder has, nothing compressed, no file longer
than the whole, sums that fit, and all of it beside the runs before it becomes one.
"""

import json
import os
import re
import sqlite3
import struct
import zipfile
from collections.abc import Callable, Iterable, Iterator
from hashlib import sha256
from pathlib import Path
from typing import Any, BinaryIO, TypeAlias

from server.runs.beside import NOTE, TAGS
from server.runs.checks import CHECK
from server.runs.held_folder import RECEIVING, HeldFolder
from server.runs.layout import SEGMENT_READ_BYTES_MAX, is_run_name, segment_number
from server.runs.library import RECEIVED, summary_of
from server.runs.log.dated import DATED
from server.runs.log.store import LOG, copy_log
from server.runs.segments import segments
from server.runs.space import least_free
from server.runs.thinned_run import is_thinned
from server.whole_file import free_and_total, sync_files, sync_folder

FORMAT = 1
SUFFIX = ".slipring"
MANIFEST = "run.json"
FILES_MAX = 20_000  # a year of segments of ten minutes has less than three times that; a night has 220
MANIFEST_BYTES_MAX = 4 << 20
NAME_MAX = 200  # characters of a run's name
NAMESAKES_MAX = 100
_COPY_BYTES = 1 << 20
_SYNC_BYTES = 64 << 20  # small files are synced together, and no recording waits for more than this to be written
_EACH_BYTES = 400  # what the zip and its list have of each file
_CHECK = re.compile(re.escape(CHECK).replace(r"\{\}", r"[1-9][0-9]{0,5}"))
_SENDING = ".sending-"
_NO_PARCEL = (zipfile.BadZipFile, ValueError, KeyError, NotImplementedError, EOFError, RuntimeError, struct.error)
Share: TypeAlias = Callable[[float], None]  # told how far it is, from 0 to 1


class ParcelError(Exception):
    """A file that holds no run that can be taken in; the sentence says why, `instead` what to do."""

    def __init__(self, said: str, instead: str = "have it sent again") -> None:
        super().__init__(said)
        self.instead = instead


def send(run: Path, target: Path) -> int:
    """Write a run into one file; its bytes. Nothing is written over, and half of it is never there under that name.

    Raises ParcelError where there is nothing to send, FileExistsError, other OSErrors.
    """
    if target.exists():
        raise FileExistsError(None, "there is such a file already", str(target))
    with HeldFolder(_SENDING, target.absolute().parent) as beside:
        whole = beside.path / target.name
        size = pack(run, whole, beside.path / LOG)
        os.link(whole, target)  # fails where there is one by now
    sync_folder(target.absolute().parent)
    return size


def pack(run: Path, whole: Path, beside: Path, share: Share = lambda share: None) -> int:
    """Write a run into this file; its bytes. `beside`: where its log may be copied to meanwhile, in the same folder.

    Raises ParcelError where there is nothing to send, and OSError.
    """
    sources, expected = list(_sources(run)), max(bytes_of(run), 1)
    try:
        if run / LOG in sources:
            sources[-1] = _copied(run / LOG, beside)
        with whole.open("wb") as file:
            _write(run.name, sources, file, lambda: share(min(file.tell() / expected, 1.0)))
            file.flush()
            os.fsync(file.fileno())
            return file.tell()
    finally:
        beside.unlink(missing_ok=True)


def bytes_of(run: Path) -> int:
    """About how long its file will be. Raises as `pack` does."""
    return sum(path.stat().st_size + _EACH_BYTES for path in _sources(run))


def _sources(run: Path) -> list[Path]:
    """The files of a run that are sent, its log last where the segments know less: it cannot be made again then."""
    sources = segments(run)
    if not sources:
        raise ParcelError(f"there is no recording in {run}")
    sources += sorted(path for path in run.iterdir() if path.is_file() and _is_beside(path.name))
    return [*sources, run / LOG] if is_thinned(run) and (run / LOG).is_file() else sources


def _copied(log: Path, to: Path) -> Path:
    """A log as one file, even while it is written; as it lies there where it cannot be read."""
    try:
        copy_log(log, to)
    except sqlite3.Error:
        return log
    return to


def _write(run: str, sources: Iterable[Path], file: BinaryIO, written: Callable[[], None]) -> None:
    said = []
    with zipfile.ZipFile(file, "w", zipfile.ZIP_STORED) as parcel:
        for path in sources:
            name, digest, size = path.name, sha256(), 0
            with path.open("rb") as source, parcel.open(name, "w", force_zip64=True) as part:
                while data := source.read(_COPY_BYTES):
                    digest.update(data)
                    size += len(data)
                    part.write(data)
                    written()
            said.append({"name": name, "bytes": size, "sha256": digest.hexdigest()})
        manifest = {"format": FORMAT, "run": run, "files": said}
        parcel.writestr(MANIFEST, json.dumps(manifest, indent=1))


class ThereAlreadyError(Exception):
    """The run that was sent is among the runs already: in this folder."""

    def __init__(self, run: Path) -> None:
        super().__init__(f"this run is there already: {run}")
        self.run = run


def receive(file: Path, runs: Path, copy: bool = False) -> Path:
    """Take a run in from a file; its folder among the runs. Another of that name stays: the new one gets a number
    behind, and so does a `copy` of a run that is there.

    Raises ParcelError, ThereAlreadyError, OSError; then nothing is left of it.
    """
    runs.mkdir(mode=0o700, parents=True, exist_ok=True)
    with HeldFolder(RECEIVING, runs) as held:
        folder = held.path
        try:
            with zipfile.ZipFile(file) as parcel:
                name = _take_out(parcel, folder, file.stat().st_size)
            if not is_thinned(folder):
                (folder / LOG).unlink(missing_ok=True)  # its samples tell all of it, and are to be believed
            (folder / RECEIVED).touch(mode=0o600)
        except _NO_PARCEL as error:
            raise ParcelError(f"it is no file of a run, or it is damaged ({error})") from error
        if not copy and (there := _same(folder, runs, name)) is not None:
            raise ThereAlreadyError(there)
        held.let_go()
        sync_folder(folder)
        return _placed(folder, runs, name)


def _take_out(parcel: zipfile.ZipFile, folder: Path, size: int) -> str:
    """All files into the folder, each as it was said to be; the run's name."""
    there = parcel.infolist()
    if len(there) > FILES_MAX:
        raise ParcelError(f"it holds {len(there)} files, at most {FILES_MAX}")
    if sum(each.file_size for each in there) > size:
        raise ParcelError("it claims to hold more than it is long")
    strange = next((each for each in there if each.compress_type != zipfile.ZIP_STORED or each.flag_bits & 1), None)
    if strange is not None:
        raise ParcelError(f"{strange.filename[:NAME_MAX]!r} in it is compressed or encrypted, which no run is")
    its = (each for each in there if segment_number(each.filename) is not None)
    if any(each.file_size > SEGMENT_READ_BYTES_MAX for each in its):
        raise ParcelError(f"a segment in it is longer than {SEGMENT_READ_BYTES_MAX >> 20} MiB, which none is")
    free, total = free_and_total(folder)
    if size + least_free(total) > free:
        raise OSError(None, f"it has {size / 1e6:.0f} MB, and the disk has no room for them", str(folder.parent))
    run, said = _manifest(parcel)
    names = [each.filename for each in there if each.filename != MANIFEST]
    if sorted(names) != sorted(said):
        raise ParcelError("it holds other files than it says")
    unsynced, unsynced_bytes = list[Path](), 0
    for name in names:
        with parcel.open(name) as part, (folder / name).open("xb") as out:
            digest = sha256()
            for data in _pieces(part):
                digest.update(data)
                unsynced_bytes += out.write(data)
        if digest.hexdigest() != said[name]:
            raise ParcelError(f"{name} in it was changed on the way: its checksum is another one")
        unsynced.append(folder / name)
        if unsynced_bytes >= _SYNC_BYTES:
            sync_files(unsynced)
            unsynced, unsynced_bytes = [], 0
    sync_files(unsynced)
    return run


def _manifest(parcel: zipfile.ZipFile) -> tuple[str, dict[str, str]]:
    """The run's name, and the checksum of each file by its name; names that a run's folder has, and no others."""
    if parcel.getinfo(MANIFEST).file_size > MANIFEST_BYTES_MAX:
        raise ParcelError(f"its {MANIFEST} is longer than {MANIFEST_BYTES_MAX >> 20} MiB")
    told: Any = json.loads(parcel.read(MANIFEST))
    number = told.get("format") if isinstance(told, dict) else None
    if isinstance(number, int) and number > FORMAT:
        raise ParcelError("it was sent by a newer Slipring", "install the newer Slipring here")
    if number != FORMAT:
        raise ParcelError("it is of another format than this version knows")
    run, files = told.get("run"), told.get("files")
    if not isinstance(run, str) or len(run) > NAME_MAX or not is_run_name(run) or not isinstance(files, list):
        raise ParcelError("it does not say which run it holds")
    said = {}
    for each in files:
        name = each.get("name") if isinstance(each, dict) else None
        if not isinstance(name, str) or not (segment_number(name) is not None or name == LOG or _is_beside(name)):
            raise ParcelError(f"{str(name)[:NAME_MAX]!r} in it is no file of a run")
        said[name] = str(each.get("sha256"))
    if not any(segment_number(name) is not None for name in said):
        raise ParcelError("there is no recording in it")
    return run, said


def _is_beside(name: str) -> bool:
    """Whether a file is one that is kept with a run and cannot be made again from it."""
    return name in (NOTE, TAGS, DATED) or _CHECK.fullmatch(name) is not None


def _pieces(part: Any) -> Iterator[bytes]:
    while data := part.read(_COPY_BYTES):
        yield data


def _same(folder: Path, runs: Path, name: str) -> Path | None:
    """The run of that name, or with a number behind, that the same service began at the same moment."""

    def beginning(run: Path) -> tuple[str, str, float]:
        its = summary_of(run, name)
        return its.rig, its.serial, its.opened_utc_s

    places = (runs / (name if number == 1 else f"{name}-{number}") for number in range(1, NAMESAKES_MAX))
    return next((place for place in places if place.is_dir() and beginning(place) == beginning(folder)), None)


def _placed(folder: Path, runs: Path, name: str) -> Path:
    """The folder under the run's name, or that with a number behind."""
    for number in range(1, NAMESAKES_MAX):
        place = runs / (name if number == 1 else f"{name}-{number}")
        if place.exists() or any((runs / "deleted").glob(f"{place.name}.*")):
            continue
        os.rename(folder, place)
        sync_folder(runs)
        return place
    raise FileExistsError(None, f"there are {NAMESAKES_MAX - 1} runs of that name", str(runs / name))
