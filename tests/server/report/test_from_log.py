"""A report from the log of a run says what one from a replay says; it is there of samples that were thinned away."""

from dataclasses import fields, replace
from pathlib import Path
from shutil import copytree

import numpy as np
import pytest

from server.report.blocks import Label
from server.report.compose import document_of, sentences
from server.report.make import report_of
from server.report.report import Report
from server.report.states import NOT_RECORDED
from server.report.trends import trends_drawing
from server.report.words import Times
from server.runs.beside import DIGEST, read_digest, write_digest
from server.runs.log.store import LOG
from server.runs.pack import pack_segment
from server.runs.segments import segments
from server.runs.sum_up import summed_up
from server.runs.thin import thin_segment
from tests.server.export.runs import OPENED_UTC_S, run_of
from tests.server.tiny_board import CURRENT, HOUSING, VOLTAGE, TinyBoard

AT_UTC_S = OPENED_UTC_S + 100.0
LOST = (range(2500, 2600),)


@pytest.fixture(scope="module")
def recorded(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A run of a board that starts anew within it, with a hole and lost samples; it is summed up."""
    run = run_of(tmp_path_factory.mktemp("data") / "runs", lost=LOST, starts=2)
    for path in segments(run):
        pack_segment(path)
    write_digest(run, summed_up(run))
    return run


@pytest.fixture
def run(recorded: Path, tmp_path: Path) -> Path:
    copied: Path = copytree(recorded, tmp_path / "runs" / recorded.name)
    return copied


def said(report: Report) -> list[str]:
    """All words but where they come from."""
    return [each for each in sentences(document_of(report).parts) if not each.startswith("Figures: ")]


def test_it_says_what_a_replay_says_and_where_it_is_from(run: Path) -> None:
    of_log, of_replay = report_of(run, AT_UTC_S), report_of(run, AT_UTC_S, again=True)
    assert of_log.source.startswith("read from the run's log")
    assert of_replay.source == "computed again from the recorded samples, as was asked for"
    assert said(of_log) == said(of_replay)
    assert len(said(of_log)) > 100
    assert any(each.state == NOT_RECORDED for each in of_log.spells)
    for name in (each.name for each in fields(Report)):
        one, other = getattr(of_log, name), getattr(of_replay, name)
        if name == "statistics":  # ± is kept as float32, all else bit for bit
            assert [replace(each, u95=None) for each in one] == [replace(each, u95=None) for each in other]
            for each, its in zip(one, other, strict=True):
                assert each.u95 == (None if its.u95 is None else pytest.approx(its.u95, rel=1e-6))
        elif name == "trends":  # what is drawn to five digits
            for low, high in zip(one, other, strict=True):
                assert (low.label, low.from_utc_s, low.column_s) == (high.label, high.from_utc_s, high.column_s)
                for end in ("mean", "low", "high"):
                    assert getattr(low, end) == pytest.approx(getattr(high, end), rel=1e-4, nan_ok=True)
        elif name != "source":
            assert one == other, name


def test_a_last_value_that_is_only_a_bound_has_its_sign_as_on_the_live_screens(tmp_path: Path) -> None:
    """A shaft that is held: no edge comes any more, and its current clips the sensor."""
    held = ((1.1, 230.0, 0.5, 1400.0), (0.05, 230.0, 1.5, 0.0), (0.05, 230.0, 1.5, 0.0))
    board = TinyBoard((VOLTAGE, replace(CURRENT, code_low=-5000, code_high=5000), HOUSING))
    run = run_of(tmp_path / "runs", held, board=board)
    write_digest(run, summed_up(run))
    for report in (report_of(run, AT_UTC_S), report_of(run, AT_UTC_S, again=True)):
        signs = {each.label: each.bound for each in report.trends}
        assert signs.items() >= {"current": "\u2265\u00a0", "speed": "\u2264\u00a0", "voltage": ""}.items()
        drawn = trends_drawing(report, Times(report.from_utc_s, report.to_utc_s))
        assert drawn is not None
        said = [each.text for each in drawn.shapes if isinstance(each, Label)]
        assert [each[0] for each in said if each.endswith("\u00a0r/min")] == ["\u2264"]


def test_where_log_or_summary_is_missing_the_run_is_played_and_the_report_says_why(run: Path) -> None:
    whole = said(report_of(run, AT_UTC_S))
    digest = (run / DIGEST).read_bytes()
    (run / DIGEST).unlink()
    played = report_of(run, AT_UTC_S)
    assert played.source == "computed again from the recorded samples, as the run is not summed up yet"
    (run / DIGEST).write_bytes(digest.replace(b'"report_', b'"x_').replace(b'"settings":[[', b'"settings":[[null,'))
    assert "as the run is not summed up yet" in report_of(run, AT_UTC_S).source
    (run / DIGEST).write_bytes(digest)
    (run / LOG).unlink()
    without = report_of(run, AT_UTC_S)
    assert without.source == f"computed again from the recorded samples, as {run.name} has no log yet"
    assert said(played) == said(without) == whole


def test_what_was_thinned_away_since_is_in_the_report_and_is_no_gap(run: Path) -> None:
    before = report_of(run, AT_UTC_S)
    for path in segments(run):
        thin_segment(path, [(OPENED_UTC_S, OPENED_UTC_S + 1.0)], "a plan", AT_UTC_S)
    for digest in (read_digest(run), None):
        if digest is None:  # it went on while its first samples were given up, and was summed up only then
            (run / DIGEST).unlink()
        after = report_of(run, AT_UTC_S)
        assert after.statistics == before.statistics
        assert after.energy_j == before.energy_j
        assert (after.events, after.verdicts) == (before.events, before.verdicts)
        assert len(after.gaps) == len(before.gaps) == 1
        assert [each.state for each in after.spells] == [each.state for each in before.spells]
        assert "were thinned by the plan of a plan" in after.source
        drawn = {each.kind: each for each in after.trends}
        whole = {each.kind: each for each in before.trends}
        for kind in ("current", "voltage"):
            assert float(np.nanmax(drawn[kind].high)) == pytest.approx(float(np.nanmax(whole[kind].high)), rel=0.1)
    stored = [next(its["stored"] for its in each.account if its["what"] == "samples") for each in (before, after)]
    assert stored[1] < stored[0] - 1000
    assert report_of(run, AT_UTC_S, again=True).statistics != before.statistics
