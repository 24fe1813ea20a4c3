"""Makes the report of a run: from its log, or played once, put into words, written beside and renamed.

`python -m server.report.make` is the same as a child process of low priority for the service, as of exports.
"""

import sys
import time
from collections.abc import Callable, Sequence
from contextlib import suppress
from dataclasses import replace
from datetime import tzinfo
from math import inf
from pathlib import Path
from typing import Any, Literal, TypeAlias

from server import VERSION
from server.alarms.kept import Kept, UnreadableError, kept_from, notice_from
from server.alarms.notice import Notice
from server.alarms.shown import is_so, standing
from server.config import ConfigError
from server.export.child import main
from server.export.format import ExportError
from server.export.logged import AGAIN, PLAYED, Source, source_of
from server.export.place import written
from server.procedures.sheet import summary as summary_of_check
from server.report.compose import document_of
from server.report.from_log import told_by_log
from server.report.gathering import Gathering, Named
from server.report.holes import NO_SAMPLES, Hole, end_of
from server.report.html import html
from server.report.planned import plan_of, runs_beside
from server.report.report import Extra, Report
from server.report.stories import raised_of, with_standing
from server.report.words import Times
from server.runs.account import reason_of
from server.runs.beside import read_digest, read_note, size_of
from server.runs.checks import check_numbers, read_check
from server.runs.holes import HOLE_S
from server.runs.library import RunSummary, summary_of
from server.runs.log.dated import read_dated
from server.runs.log.reading import LogError, LogReader
from server.runs.replay import Replay
from server.runs.segments import last_entry
from server.runs.sum_up import summed_up
from server.runs.thinned_run import is_thinned, thinned_words

Form: TypeAlias = Literal["html", "pdf"]
Paper: TypeAlias = Literal["a4", "letter"]
MEDIA_TYPES: dict[Form, str] = {"html": "text/html; charset=utf-8", "pdf": "application/pdf"}
Share: TypeAlias = Callable[[float], None]


def report_of(run: Path, made_utc_s: float, share: Share = lambda share: None, again: bool = False) -> Report:
    """From the log and the run in short where they know all of it, else the run is played; `again`: it is played all
    the same. Raises ExportError where there is none; OSError."""
    last, summary = last_entry(run), summary_of(run)
    if last is None:
        raise ExportError(f"{run.name}: there is no recording in this folder; give a run's folder")
    length_s = max(last.entry.utc_s - summary.opened_utc_s, 1.0)
    named = Named(summary.name, summary.rig, read_note(run), f"Slipring {VERSION}", made_utc_s)

    def played(utc_s: float) -> None:
        share(min(max((utc_s - summary.opened_utc_s) / length_s, 0.0), 1.0))

    source = AGAIN if again else source_of(run)
    told = _of_log(run, named, source) if source.log else None
    if told is None:
        words = source.words if not source.log else f"{PLAYED}, as the run is not summed up yet"
        told = replace(_of_replay(run, named, played), source=words)
    times = Times(told.from_utc_s, told.to_utc_s)
    plan = None if summary.received else plan_of(run, summary.rig, times)
    records = (read_check(run, check) for check in check_numbers(run))
    kept = [summary_of_check(record) for record in records if record is not None]
    rows = tuple((str(each["number"]), each["word"], each["below"]) for each in kept)
    checks = Extra("Wiring, as it was kept", "", (("number", "found", ""), *rows), (0.6, 3.0, 4.0)) if rows else None
    extras = (*filter(None, (plan,)), *told.extras, *filter(None, (checks,)))
    alarms, stand = alarms_of(run, summary.rig), _standing(run, summary)
    gone = _gone(run, summary, told.to_utc_s, alarms or ())
    if stand:
        alarms = with_standing(alarms or (), raised_of(stand))
    so = {str(each["id"]): is_so(each) for each in stand}
    return replace(told, alarms=alarms, standing=so, extras=extras, gone=gone)


def _standing(run: Path, summary: RunSummary) -> list[dict[str, object]]:
    """Alarms that stand now, of a run that goes on: it is open, and the newest of its rig."""
    if summary.closed_utc_s is not None or summary.received:
        return []
    kept = _kept(run, summary.rig)
    newer = (each.opened_utc_s > summary.opened_utc_s for each in runs_beside(run, summary.rig))
    return [] if kept is None or any(newer) else standing(kept.state, summary.rig)


def _gone(run: Path, summary: RunSummary, sample_utc_s: float, alarms: Sequence[Notice]) -> Hole | None:
    """What is known of a run behind its last sample, up to where it closed: then nothing was to come any more."""
    marks = list[str]()
    end_utc_s = end_of(summary, sample_utc_s, 0.0, alarms)
    with suppress(LogError), LogReader(run) as log:
        end_utc_s = end_of(summary, sample_utc_s, log.mark_utc_s, alarms)
        marks = [text for _, until, text in log.gaps(0.0, end_utc_s) if until is None]
    end_utc_s = min(end_utc_s, inf if summary.closed_utc_s is None else summary.closed_utc_s)
    if end_utc_s - sample_utc_s <= HOLE_S:
        return None
    return Hole(sample_utc_s, end_utc_s, reason_of(marks[0]).value if marks else NO_SAMPLES)


def _of_log(run: Path, named: Named, source: Source) -> Report | None:
    """None where the run in short is not there, or where something cannot be read after all."""
    try:
        digest, thinned = read_digest(run), is_thinned(run)
        if digest is None or "drawn" not in digest or digest.get("bytes") != size_of(run):
            if not thinned:
                return None
            digest = summed_up(run)
        given_up = f". {thinned_words(run)}".rstrip(".") if thinned else ""
        words = f"{source.words}; account, damage and duty are as they were found when it was summed up{given_up}"
        return replace(told_by_log(run, digest, named, thinned), source=words)
    except (LogError, ConfigError, LookupError, TypeError, ValueError):  # whatever stands in the files
        return None


def _of_replay(run: Path, named: Named, played: Callable[[float], None]) -> Report:
    gathering, replay = Gathering(), Replay(run)
    for each in replay:
        if each.entry is None:
            gathering.trouble(each.trouble)
            continue
        gathering.take(each.entry, each.output, replay.pipeline)
        played(each.entry.utc_s)
    return gathering.report(named)


def alarms_of(run: Path, rig: str) -> tuple[Notice, ...] | None:
    """What was told of alarms while this run was recorded: as it lies beside the run, or else as far as it is still
    kept in the data folder that the run lies in; None where none is kept there for its rig."""
    if noted := [notice_from(each.said) for each in read_dated(run, ("alarm",))]:
        return tuple(each for each in noted if each is not None)
    kept = _kept(run, rig)
    return None if kept is None else tuple(each for each in kept.told if each.run == run.name)


def _kept(run: Path, rig: str) -> Kept | None:
    """What is kept of the rig's alarms in the data folder that the run lies in."""
    with suppress(OSError, UnreadableError):
        return kept_from((run.absolute().parent.parent / "alarms" / f"{rig}.json").read_bytes())
    return None


def rendered(report: Report, form: Form, paper: Paper = "a4", zone: tzinfo | None = None) -> bytes:
    """The report as a file of this form."""
    document = document_of(report, zone)
    if form == "html":
        return html(document, paper).encode()
    from server.report.pdf import pdf  # it loads the library and the fonts

    return pdf(document, paper, report.made_utc_s)


def make(
    run: Path, form: Form, paper: Paper, target: Path, share: Share = lambda share: None, again: bool = False
) -> int:
    """Bytes of the file that was made; `again`: as of `report_of`.

    Raises ExportError; OSError; nothing is left beside it then.
    """
    return written(
        target, lambda part: part.write_bytes(rendered(report_of(run, time.time(), share, again), form, paper))
    )


def _answer(said: dict[str, Any], share: Share) -> dict[str, Any]:
    report = report_of(Path(said["run"]), time.time(), share)
    made = rendered(report, said["as"], said["paper"])
    size = written(Path(said["target"]), lambda part: part.write_bytes(made))
    return {"bytes": size, "source": f"Figures: {report.source}."}


if __name__ == "__main__":
    sys.exit(main(_answer))
