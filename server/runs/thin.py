"""`python -m server.runs.thin RUN AROUND_S EACH_HOUR_S SEGMENT...`: gives up samples of packed segments, as planned.

A program of its own and of low priority, like `pack`. The thinned segment is written beside, synced, read back and
compared with the one that holds, renamed over it, and its name synced. So whenever it is killed the run can be read.
What the log does not know yet, and what is damaged, is left as it is.
"""

import sys
import time
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path

from server.runs.account import Account
from server.runs.beside import read_digest, write_digest
from server.runs.disk import Disk, from_disk
from server.runs.in_child import begin_quietly
from server.runs.layout import MAGIC_PACKED, Numbered, is_packed, record
from server.runs.library import summary_of
from server.runs.log.dated import read_dated
from server.runs.log.reading import LogError, LogReader
from server.runs.packed_file import PackedFile
from server.runs.packing.thinned import thinned_of
from server.runs.packing.thinning import Needed, in_place_of, may_go
from server.runs.packing.whole import Index, Place, block_of, index_record
from server.runs.replay import recorded
from server.runs.segments import segments
from server.runs.space import TOLD_LATE_S, Plan, Span, kept_spans
from server.runs.thinned_run import ACCOUNT_DUE
from server.whole_file import sync_folder


def thin_segment(path: Path, spans: Sequence[Span], plan: str, utc_s: float, disk: Disk | None = None) -> int:
    """Keep of a packed segment what lies in the spans and what the run is read by; how many bytes are free now.

    Raises OSError, and the segment is there as it was.
    """
    disk = disk or Disk()
    beside = path.with_suffix(".thinning")
    beside.unlink(missing_ok=True)  # ours, of a thinning that was cut off
    with path.open("rb") as file:
        there = PackedFile(file)
        index, needed = _looked_at(path, there)
        goes = may_go(index, needed, spans)
        if not any(goes):
            return 0
        try:
            disk.write(beside, _pieces(path, there, index, goes, utc_s, plan))
            _check(beside, there, index, goes)
            freed = path.stat().st_size - beside.stat().st_size
            disk.rename(beside, path)
        except OSError:
            beside.unlink(missing_ok=True)
            raise
    disk.sync_folder(path.parent)
    return freed


def _looked_at(path: Path, there: PackedFile) -> tuple[Index, list[bool]]:
    """The index of a whole segment, and of each place whether the rest of the run needs it."""
    if there.index is None:
        raise OSError(None, f"the index of {path.name} is damaged, so it is left as it is")
    needed, its = list[bool](), Needed()
    for place in there.index.places:
        numbered = _whole(path, there, place)
        block = block_of(numbered)
        this, before = (True, False) if block is None else its.take(block[1])  # None: thinned before
        if before and needed:
            needed[-1] = True
        needed.append(this)
    return there.index, needed


def _whole(path: Path, there: PackedFile, place: Place) -> Numbered:
    numbered = there.record_at(place)
    if numbered is None or (block_of(numbered) is None and thinned_of(numbered) is None):
        raise OSError(None, f"{path.name} is damaged at byte {place.offset}, so it is left as it is")
    return numbered


def _pieces(
    path: Path, there: PackedFile, index: Index, goes: Sequence[bool], utc_s: float, plan: str
) -> Iterator[bytes]:
    """The thinned segment: blocks as they are, one record in place of those behind each other that go, the index."""
    places, offset, at = list[Place](), 0, 0
    while at < len(goes):
        place, behind = index.places[at], at + 1
        if goes[at]:
            behind = next((k for k in range(at, len(goes)) if not goes[k]), len(goes))
            made = in_place_of(index, at, behind, utc_s, plan).recorded
        else:
            its = _whole(path, there, place)
            made = record(its.number, its.entry, MAGIC_PACKED)
        places.append(Place(offset, place.plain_offset, place.number, place.utc_s))
        offset, at = offset + len(made), behind
        yield made
    yield index_record(Index(tuple(places), index.plain_bytes, index.next_number, index.to_utc_s), offset)


def _check(beside: Path, there: PackedFile, index: Index, goes: Sequence[bool]) -> None:
    """Raises OSError unless the file, as the disk gives it back, holds all that is kept and tells of all the rest."""
    with beside.open("rb") as file:
        from_disk(file)
        made = PackedFile(file)
        kept = {place.plain_offset: place for place, gone in zip(index.places, goes, strict=True) if not gone}
        due = 0
        for place in () if made.index is None else made.index.places:
            its, was = made.record_at(place), kept.pop(place.plain_offset, None)
            length = 0 if its is None or place.plain_offset != due else _length(its)
            if not length or (was is not None and there.record_at(was) != its):
                break
            due += length
    if kept or due != index.plain_bytes:
        raise OSError(None, f"{beside.name} does not hold what was written to it")


def _length(numbered: Numbered) -> int:
    """Of how many plain bytes a record of a packed segment tells; 0: of none."""
    if (thinned := thinned_of(numbered)) is not None:
        return thinned.length
    block = block_of(numbered)
    return 0 if block is None else len(block[1])


def spans_of(run: Path, plan: Plan, until_utc_s: float) -> list[Span]:
    """What the plan keeps of a run up to this moment. Raises LogError where its log does not know all that happened so
    shortly behind it that the plan keeps what came before, and OSError."""
    with LogReader(run) as log:
        if log.whole_until_utc_s < until_utc_s + plan.around_s + TOLD_LATE_S:
            raise LogError(f"the log of {run.name} does not know all of the run, so its samples stay")
        moments, missing = log.moments_utc_s(), log.missing
    moments += [each.at_utc_s for each in read_dated(run)]
    starts: list[float] = []
    for path in segments(run):
        if is_packed(path.name):
            with path.open("rb") as file:
                index = PackedFile(file).index
            starts += [] if index is None else [place.utc_s for place in index.places]
    return kept_spans(plan, moments, starts, missing)


def account_again(run: Path) -> None:
    """What the run in short says of its samples, as it is now; nothing where it was not summed up. Raises OSError."""
    digest = read_digest(run)
    if digest is not None:
        account = Account()
        for each in recorded(run):
            if isinstance(each, str):
                account.unreadable()
            else:
                account.take(each)
        write_digest(run, {**digest, "account": account.record()})
    (run / ACCOUNT_DUE).unlink(missing_ok=True)


def thin(run: Path, plan: Plan, names: Sequence[str], utc_s: float, said: Callable[[str], object]) -> None:
    """Thin these packed segments of a run. `said`: told why one is left as it is. Raises OSError and LogError."""
    there = {path.name: path for path in segments(run) if is_packed(path.name)}
    chosen = [there[name] for name in names if name in there]
    if summary_of(run).closed_utc_s is not None and chosen and read_digest(run) is None:
        raise LogError(f"{run.name} is not summed up yet, so its samples stay")
    if chosen:
        spans = spans_of(run, plan, max(_to_utc_s(path) for path in chosen))
        (run / ACCOUNT_DUE).touch(mode=0o600)
        sync_folder(run)
    for path in chosen:
        try:
            thin_segment(path, spans, plan.words, utc_s)
        except OSError as error:
            said(error.strerror or str(error))
    account_again(run)


def _to_utc_s(path: Path) -> float:
    with path.open("rb") as file:
        index = PackedFile(file).index
    return 0.0 if index is None else index.to_utc_s


def main(arguments: list[str]) -> int:
    """Exit code: 0 done, 1 something could not be."""
    begin_quietly()
    run, around_s, each_hour_s, *names = arguments
    failed: list[str] = []
    try:
        thin(Path(run), Plan(float(around_s), float(each_hour_s)), names, time.time(), failed.append)
    except (OSError, LogError) as error:
        failed.append(str(error))
    if failed:
        print(failed[-1], file=sys.stderr)
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
