"""Makes an export of a run: written beside, then renamed. How far it is, and how large it will be, can be asked.

`python -m server.export.make` is the same as a child process of low priority for the service: JSON in, JSON lines out.
It ends itself when its standard input closes, so that nothing goes on without the service.
"""

import json
import os
import sys
import threading
from collections.abc import Callable
from dataclasses import dataclass, replace
from importlib.util import find_spec
from math import inf, isfinite
from pathlib import Path
from shutil import disk_usage
from tempfile import TemporaryDirectory, TemporaryFile
from typing import Any, TypeAlias

from server import VERSION
from server.export import EXPORTS
from server.export.format import Export, ExportError, Wanted
from server.export.readings import readings_of
from server.export.waves import waves_of
from server.runs.beside import read_digest
from server.runs.library import RunSummary, summary_of
from server.runs.segments import last_entry
from server.whole_file import sync_folder

NICE = 15
PART = ".part"  # behind the name of what is not whole yet
FREE_LEFT_BYTES = 1 << 30  # on the disk, for recordings
TRIED_S = (4.0, 8.0)  # so much of a run is exported to know how large the whole will be
Share: TypeAlias = Callable[[float], None]


@dataclass(frozen=True, slots=True)
class Estimate:
    """How large an export will be, about; `whole`: it was made as a whole, so this is exact."""

    bytes: int
    from_utc_s: float
    to_utc_s: float
    whole: bool = False


def export_named(key: str, wanted: Wanted) -> Export:
    """Raises ExportError for a format that there is not, that holds no such thing, or whose library is missing."""
    export = next((each for each in EXPORTS if each.key == key), None)
    if export is None:
        raise ExportError(f'there is no format "{key}"; there are {", ".join(each.key for each in EXPORTS)}')
    if wanted.what not in export.whats:
        raise ExportError(f"{key} holds {' and '.join(export.whats)} only; take another format for {wanted.what}")
    for module in export.needs:
        if find_spec(module) is None:
            raise ExportError(f"{key} needs the library {module}; install it with pip install {module}")
    return export


def span_of(run: Path, wanted: Wanted, summary: RunSummary) -> tuple[float, float]:
    """From where to where, as far as there is something. Raises ExportError where that is nothing; OSError."""
    last = last_entry(run)
    if last is None:
        raise ExportError(f"{run.name}: there is no recording in this folder; give a run's folder")
    since = max(wanted.from_utc_s, summary.opened_utc_s)
    to = min(wanted.to_utc_s, max(summary.closed_utc_s or last.entry.utc_s, summary.opened_utc_s))
    if since > to:
        raise ExportError(f"{run.name} has nothing in this span; choose another with --from and --to")
    return since, to


def make(run: Path, key: str, wanted: Wanted, target: Path, share: Share = lambda share: None) -> int:
    """Bytes of the file that was made. Raises ExportError; OSError; nothing is left beside it then."""
    export, summary = export_named(key, wanted), summary_of(run)
    since, to = span_of(run, wanted, summary)
    if target.exists():
        raise ExportError(f"{target} is there already, and nothing is written over; choose another name")
    part = target.with_name(target.name + PART)

    def played(utc_s: float) -> None:
        if disk_usage(part.parent).free < FREE_LEFT_BYTES:
            raise ExportError(f"the disk of {part.parent} has less than 1 GB left, which is kept for recordings")
        share(min(max((utc_s - since) / max(to - since, 1.0), 0.0), 1.0))

    try:
        _write(run, export, wanted, part, summary, played)
        with part.open("rb+") as file:
            os.fsync(file.fileno())
            size = file.seek(0, os.SEEK_END)
        part.rename(target)
        sync_folder(target.parent)
    finally:
        part.unlink(missing_ok=True)
    return size


def _write(
    run: Path, export: Export, wanted: Wanted, part: Path, summary: RunSummary, played: Callable[[float], None]
) -> None:
    digest = read_digest(run)
    about = {"software": f"Slipring {VERSION}", "run": summary.name, "rig": summary.rig, "serial": summary.serial}
    about |= {key: digest[key] for key in ("motor", "type", "source") if digest and digest.get(key)}
    if wanted.what == "readings":
        assert export.readings is not None
        with TemporaryFile(dir=part.parent) as file:
            readings = readings_of(run, summary.rig, wanted, file, played)
            export.readings(replace(readings, about={**about, **readings.about}), part)
    else:
        waves = waves_of(run, summary.rig, wanted, digest, played)
        assert export.waveforms is not None
        export.waveforms(replace(waves, about={**about, **waves.about}), part)


def estimate(run: Path, key: str, wanted: Wanted) -> Estimate:
    """How large it will be, by exporting two short stretches: what each second adds, and what is there without any.

    Of waveforms from the middle of the span where the run in short is known, else from its beginning. Raises as `make`.
    """
    export, summary = export_named(key, wanted), summary_of(run)
    since, to = span_of(run, wanted, summary)
    if to - since <= TRIED_S[-1]:
        return Estimate(_tried(run, export, replace(wanted, from_utc_s=since, to_utc_s=to), summary), since, to, True)
    jumps = wanted.what == "waveforms" and read_digest(run) is not None
    first = 0.5 * (since + to - TRIED_S[-1]) if jumps else since
    few, more = (_tried(run, export, replace(wanted, from_utc_s=first, to_utc_s=first + s), summary) for s in TRIED_S)
    a_second = max(0.0, (more - few) / (TRIED_S[1] - TRIED_S[0]))
    return Estimate(round(more + a_second * (to - since - TRIED_S[1])), since, to)


def _tried(run: Path, export: Export, wanted: Wanted, summary: RunSummary) -> int:
    with TemporaryDirectory() as folder:
        path = Path(folder) / "tried"
        _write(run, export, wanted, path, summary, lambda utc_s: None)
        return path.stat().st_size


def asked(said: dict[str, Any]) -> Wanted:
    """What is wanted, from JSON; a time that is null is open."""
    since, to = said.get("from_utc_s"), said.get("to_utc_s")
    return Wanted(said["what"], -inf if since is None else since, inf if to is None else to, said.get("group"))


def main() -> int:
    """Exit code: 0 done, 1 it could not be; the last line says which."""
    if hasattr(os, "nice"):
        os.nice(NICE)
    said = json.loads(sys.stdin.readline())
    threading.Thread(target=_end_with_parent, args=(said.get("target"),), daemon=True).start()
    try:
        print(json.dumps(_answer(said)), flush=True)
    except (ExportError, OSError) as error:
        print(json.dumps({"trouble": str(getattr(error, "strerror", None) or error)}), flush=True)
        return 1
    return 0


def _answer(said: dict[str, Any]) -> dict[str, Any]:
    run, wanted = Path(said["run"]), asked(said)
    if said.get("target") is None:
        told = estimate(run, said["as"], wanted)
        return {"bytes": told.bytes, "from_utc_s": told.from_utc_s, "to_utc_s": told.to_utc_s}
    told_share = -1.0

    def share(now: float) -> None:
        nonlocal told_share
        if isfinite(now) and now >= told_share + 0.01:
            told_share = now
            print(json.dumps({"share": round(now, 2)}), flush=True)

    return {"bytes": make(run, said["as"], wanted, Path(said["target"]), share)}


def _end_with_parent(target: str | None) -> None:
    while os.read(0, 1024):  # not through sys.stdin, whose lock would outlive this program's end
        pass
    if target is not None:
        Path(target + PART).unlink(missing_ok=True)
    os._exit(1)


if __name__ == "__main__":
    sys.exit(main())
