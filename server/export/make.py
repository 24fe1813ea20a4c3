"""Makes an export of a run: written beside, then renamed. How far it is, and how large it will be, can be asked.

`python -m server.export.make` is the same as a child process of low priority for the service.
"""

import sys
from collections.abc import Callable, Iterator
from contextlib import suppress
from dataclasses import dataclass, replace
from functools import partial
from importlib.util import find_spec
from math import inf
from pathlib import Path
from tempfile import TemporaryDirectory, TemporaryFile
from typing import Any

from server import VERSION
from server.export import EXPORTS
from server.export.child import main
from server.export.format import Chunk, Export, ExportError, Share, Wanted, utc_text
from server.export.place import look_at_room, written
from server.export.readings import readings_of, source_words
from server.export.waves import waves_of
from server.runs.beside import read_digest
from server.runs.library import RunSummary, summary_of
from server.runs.segments import last_entry
from server.runs.thinned_run import thinned_words

TRIED_S = (4.0, 8.0)  # so much of a run is exported to know how large the whole will be


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
    if wanted.from_utc_s > wanted.to_utc_s:
        ends = f"{utc_text(wanted.from_utc_s)} is behind {utc_text(wanted.to_utc_s)}"
        raise ExportError(f"from and to are swapped: {ends}; give the earlier one as --from")
    since = max(wanted.from_utc_s, summary.opened_utc_s)
    to = min(wanted.to_utc_s, max(summary.closed_utc_s or last.entry.utc_s, summary.opened_utc_s))
    if since > to:
        raise ExportError(f"{run.name} has nothing in this span; choose another one")
    return since, to


def make(run: Path, key: str, wanted: Wanted, target: Path, share: Share = lambda share: None) -> int:
    """Bytes of the file that was made. Raises ExportError; OSError; nothing is left beside it then."""
    export, summary = export_named(key, wanted), summary_of(run)
    since, to = span_of(run, wanted, summary)

    shown = _shown(since, to, export.plays if wanted.what == "waveforms" else 1, share)

    def look() -> None:
        look_at_room(target.parent)

    def played(utc_s: float) -> None:
        look()
        shown(utc_s)

    return written(target, lambda part: _write(run, export, wanted, part, summary, played, look))


def _shown(since: float, to: float, plays: int, share: Share) -> Callable[[float], None]:
    """Tells how far it is when a run that is read so often has come to a moment."""
    done, length_s, first, newest = 0, max(to - since, 1.0), inf, -inf

    def played(utc_s: float) -> None:
        nonlocal done, first, newest
        first = min(first, utc_s)
        if utc_s < 0.5 * (first + newest):  # from its beginning again
            done = min(done + 1, plays - 1)
        newest = utc_s
        share((done + min(max((utc_s - since) / length_s, 0.0), 1.0)) / plays)

    return played


def _write(
    run: Path,
    export: Export,
    wanted: Wanted,
    part: Path,
    summary: RunSummary,
    played: Callable[[float], None],
    look: Callable[[], None],
) -> None:
    digest = read_digest(run)
    about = {"software": f"Slipring {VERSION}", "run": summary.name, "rig": summary.rig, "serial": summary.serial}
    about |= {key: digest[key] for key in ("motor", "type", "source") if digest and digest.get(key)}
    if said := thinned_words(run):
        about["thinned"] = said
    if wanted.what == "readings":
        assert export.readings is not None
        with TemporaryFile(dir=part.parent) as file:
            readings = readings_of(run, summary.rig, wanted, file, played)
            chunks = partial(_looked_after, readings.chunks, look)
            export.readings(replace(readings, chunks=chunks, about={**about, **readings.about}), part)
    else:
        waves = waves_of(run, summary.rig, wanted, digest, played)
        assert export.waveforms is not None
        export.waveforms(replace(waves, about={**about, **waves.about}), part)


def _looked_after(chunks: Callable[[], Iterator[Chunk]], look: Callable[[], None]) -> Iterator[Chunk]:
    """The same chunks; before each is written there must be room."""
    for chunk in chunks():
        look()
        yield chunk


def estimate(run: Path, key: str, wanted: Wanted) -> Estimate:
    """How large it will be, by exporting two short stretches: what each second adds, and what is there without any.

    Of waveforms from the middle of the span where the run in short is known, else from its beginning; where no samples
    came there, from the next that did. Raises as `make`.
    """
    export, summary = export_named(key, wanted), summary_of(run)
    since, to = span_of(run, wanted, summary)
    if to - since <= TRIED_S[-1]:
        return Estimate(_tried(run, export, replace(wanted, from_utc_s=since, to_utc_s=to), summary), since, to, True)
    first = since if wanted.what == "readings" else _samples_from(run, wanted, summary, since, to)
    few, more = (_tried(run, export, replace(wanted, from_utc_s=first, to_utc_s=first + s), summary) for s in TRIED_S)
    a_second = max(0.0, (more - few) / (TRIED_S[1] - TRIED_S[0]))
    return Estimate(round(more + a_second * (to - since - TRIED_S[1])), since, to)


def _samples_from(run: Path, wanted: Wanted, summary: RunSummary, since: float, to: float) -> float:
    """When samples came of which both stretches can be tried. Raises ExportError where none came at all."""
    digest, last = read_digest(run), to - TRIED_S[-1]

    def first(at: float, until: float) -> float:
        span = replace(wanted, from_utc_s=at, to_utc_s=until)
        return float(waves_of(run, summary.rig, span, digest, lambda utc_s: None).about["start_utc_s"])

    if digest is not None:
        with suppress(ExportError):  # from the middle on none came in time
            return first(0.5 * (since + last), last)
    return first(since, to)


def _tried(run: Path, export: Export, wanted: Wanted, summary: RunSummary) -> int:
    with TemporaryDirectory() as folder:
        path = Path(folder) / "tried"
        _write(run, export, wanted, path, summary, lambda utc_s: None, lambda: None)
        return path.stat().st_size


def asked(said: dict[str, Any]) -> Wanted:
    """What is wanted, from JSON; a time that is null is open."""
    since, to = said.get("from_utc_s"), said.get("to_utc_s")
    ends = -inf if since is None else since, inf if to is None else to
    return Wanted(said["what"], *ends, said.get("group"), said.get("again", False))


def _answer(said: dict[str, Any], share: Share) -> dict[str, Any]:
    run, wanted = Path(said["run"]), asked(said)
    if said.get("target") is None:
        told = estimate(run, said["as"], wanted)
        return {"bytes": told.bytes, "from_utc_s": told.from_utc_s, "to_utc_s": told.to_utc_s}
    size = make(run, said["as"], wanted, Path(said["target"]), share)
    return {"bytes": size, "source": source_words(run, wanted)}


if __name__ == "__main__":
    sys.exit(main(_answer))
