"""`python -m server.runs.pack RUN [--all]`: packs the closed segments of a run, `--all`: the last one too.

A program of its own and of low priority, like `sum_up`. The packed segment is written beside, synced, read back,
unpacked and compared byte for byte with the plain one, renamed and its name synced; only then the plain one is removed.
So whenever it is killed, each segment is there, plain or packed or both.
"""

import sys
from contextlib import closing
from mmap import ACCESS_READ, mmap
from pathlib import Path

from server.runs.disk import Disk, from_disk
from server.runs.in_child import begin_quietly
from server.runs.layout import is_packed, packed_name
from server.runs.packed_file import PackedFile
from server.runs.packing.whole import pack
from server.runs.segments import segments

_ASIDE_MAX = 100


def to_pack(run: Path, last_too: bool) -> list[Path]:
    """The plain segments that nothing is added to any more: all but the last one, and that too where it is said.

    One of no bytes stays. Raises OSError.
    """
    there = segments(run)
    closed = there if last_too else there[:-1]
    return [path for path in closed if not is_packed(path.name) and path.stat().st_size]


def pack_segment(plain: Path, disk: Disk | None = None) -> None:
    """Pack one closed segment. Raises OSError, and the plain one is there as it was."""
    disk = disk or Disk()
    packed = plain.with_name(packed_name(plain.name))
    with plain.open("rb") as file, closing(mmap(file.fileno(), 0, access=ACCESS_READ)) as content:
        if packed.exists() and not _holds(packed, content):  # packing was cut off before the plain one was removed
            _set_aside(packed, disk)
        if not packed.exists():
            _write_checked(packed, content, disk)
    disk.sync_folder(plain.parent)
    disk.remove(plain)
    disk.sync_folder(plain.parent)


def _write_checked(packed: Path, content: mmap, disk: Disk) -> None:
    beside = packed.with_suffix(".packing")
    beside.unlink(missing_ok=True)  # ours, of a packing that was cut off
    try:
        for apart in (True, False):  # whatever should not come back as it was is kept as it is
            disk.write(beside, pack(content, apart))
            if _holds(beside, content):
                disk.rename(beside, packed)
                return
            beside.unlink()
        raise OSError(None, f"{beside.name} does not hold what was written to it")
    except OSError:
        beside.unlink(missing_ok=True)
        raise


def _holds(packed: Path, content: mmap) -> bool:
    """Whether a packed segment, as the disk gives it back, holds just these bytes."""
    with packed.open("rb") as file:
        from_disk(file)
        its, at = PackedFile(file), 0
        if its.index is None or its.index.plain_bytes != len(content):
            return False
        for piece in its.plain():
            if not isinstance(piece, bytes) or content[at : at + len(piece)] != piece:
                return False
            at += len(piece)
    return at == len(content)


def _set_aside(packed: Path, disk: Disk) -> None:
    """A packed segment that does not hold its plain one: damaged since. It is kept, under a name that none has."""
    names = (packed.with_suffix(f".damaged-{number}") for number in range(1, _ASIDE_MAX))
    aside = next((name for name in names if not name.exists()), None)
    if aside is None:
        raise OSError(None, f"{packed.name} is damaged, and {_ASIDE_MAX - 1} such files lie beside it")
    disk.rename(packed, aside)


def main(arguments: list[str]) -> int:
    """Exit code: 0 done, 1 it could not be."""
    begin_quietly()
    run, failed = Path(arguments[0]), ""
    try:
        for path in to_pack(run, "--all" in arguments):
            failed = packing_failed(path) or failed
    except OSError as error:
        failed = error.strerror or str(error)
    if failed:
        print(failed, file=sys.stderr)
    return 1 if failed else 0


def packing_failed(plain: Path) -> str:
    """Pack a segment; why it could not be, or empty. One that cannot be packed keeps no other from it."""
    try:
        pack_segment(plain)
    except OSError as error:
        return f"{plain.name}: {error.strerror or error}"
    return ""


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
