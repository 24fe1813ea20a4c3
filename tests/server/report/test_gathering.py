"""What a report gathers of a run, held against the story that the board played."""

import re
from dataclasses import asdict, replace
from pathlib import Path

import numpy as np
import pytest

from server.alarms.kept import Kept, kept_text
from server.alarms.life import Life, State, Watching
from server.alarms.notice import Rank
from server.config import RigSettings
from server.pipeline import Output
from server.readings import Event
from server.report import planned
from server.report.compose import document_of, sentences
from server.report.gathering import EVENTS_MAX, Gathering, Named
from server.report.holes import Hole
from server.report.logged import logged
from server.report.make import alarms_of, report_of
from server.report.report import Report
from server.report.words import Times
from server.runs.beside import DIGEST, SO_FAR, SoFar, keep_so_far, read_digest, write_digest, write_note
from server.runs.checks import add_check
from server.runs.layout import Entry, Kind
from server.runs.library import Library, summary_of
from server.runs.log.dated import Dated, add_dated
from server.runs.recording import Recording
from server.runs.sum_up import summed_up
from tests.server.export.runs import OPENED_UTC_S, run_of
from tests.server.report.reports import NIGHT
from tests.server.tiny_board import STORY, TinyBoard

LOST = (range(2500, 2600),)


@pytest.fixture(scope="module")
def run(tmp_path_factory: pytest.TempPathFactory) -> Path:
    run = run_of(tmp_path_factory.mktemp("runs"), lost=LOST)
    write_note(run, "new wheel")
    return run


@pytest.fixture(scope="module")
def report(run: Path) -> Report:
    return report_of(run, OPENED_UTC_S + 100.0)


def test_samples_add_up_to_what_the_board_promised(report: Report) -> None:
    line = next(each for each in report.account if each["channels"][:1] == ["=1+1"])
    assert (line["promised"], line["stored"], line["exact"]) == (9000, 8900, True)
    assert line["missing"] == {"lost on the wire": 100}
    gap = next(each for each in report.damage if each.kind == "gap")
    assert gap.samples == 100


def test_the_duty_has_each_start_with_its_figures(report: Report) -> None:
    """The story has two starts from rest, or from being held, and its motor is off at the end."""
    (duty,) = report.extras
    assert duty.title == "Duty"
    assert re.match(r"[12] starts?, cyclic duration factor ", duty.sentence)
    figures = {row[0]: row[1:] for row in duty.rows[1:]}
    assert figures["inrush, half-cycle RMS"][0].startswith("1.5")
    assert "off-time" in duty.sentence or figures["on-time"][-1] in ("1", "2")


def test_spells_follow_the_story_and_fill_the_run(report: Report) -> None:
    states = [each.state for each in report.spells]
    assert states.count("stalled") == 1
    assert "running" in states
    for one, other in zip(report.spells, report.spells[1:], strict=False):
        assert one.to_utc_s == other.from_utc_s
        assert one.state != other.state
    stalled = next(each for each in report.spells if each.state == "stalled")
    begins_s = sum(seconds for seconds, *_ in STORY[:4])
    assert stalled.from_utc_s - OPENED_UTC_S == pytest.approx(begins_s, abs=0.4)


def test_statistics_are_of_the_time_in_which_it_ran(report: Report) -> None:
    """The story has 0.5 A and 0.7 A at 1400 and 1350 r/min while it runs, 1.5 A held."""
    its = {each.id: each for each in report.statistics}
    current = its["current_rms_a"]
    assert 0.5 < current.mean < 0.72
    assert current.high < 1.3
    assert its["speed_rpm"].mean == pytest.approx(1385.0, abs=30.0)
    assert current.u95 is not None
    assert current.good + current.doubtful + current.absent <= 25  # windows in 4.2 s
    assert "current_mean_a" not in its


def test_trends_reach_from_the_lowest_to_the_highest_row(report: Report) -> None:
    current = next(each for each in report.trends if each.kind == "current")
    assert float(np.nanmax(current.high)) == pytest.approx(1.5, rel=0.05)
    assert (current.low <= current.high + 1e-12)[np.isfinite(current.mean)].all()
    assert current.mean.size * current.column_s == pytest.approx(9.0, abs=0.3)


def test_who_measured_what_and_when_is_told(report: Report, run: Path) -> None:
    assert (report.run, report.rig, report.note) == (run.name, "bench", "new wheel")
    assert report.board is not None
    assert report.board.serial == "T-1"
    assert report.motor.name == "test fan"
    assert [each.name for each in report.channels][:1] == ["=1+1"]
    assert report.channels[0].gain is not None
    assert "rig.name = bench" in report.settings
    assert report.from_utc_s == pytest.approx(OPENED_UTC_S, abs=0.1)
    assert any(each.kind == "stalled" for each in report.events)
    assert report.alarms is None


def test_all_events_are_counted_silence_is_a_hole_and_verdicts_are_those_held_at_the_end() -> None:
    gathering, open_phase = Gathering(), NIGHT.verdicts[0]
    for k in range(3 * EVENTS_MAX):
        stall = Event("stalled", float(k), "Stalled")
        held = (open_phase,) if k == 0 else () if k == 7 else None
        gathering.take(Entry(Kind.CHUNK, OPENED_UTC_S + k, b""), Output(events=(stall,), verdicts=held), None)
    gathering.take(Entry(Kind.CHUNK, OPENED_UTC_S + 2000.0, b""), None, None)  # and no mark says why
    report = gathering.report(Named("run", "bench", "", "", OPENED_UTC_S))
    assert report.gaps == ((OPENED_UTC_S + 1199.0, OPENED_UTC_S + 2000.0),)
    assert report.spent["not recorded"] == (1, 801.0)
    assert (len(report.events), report.events_count, report.counts) == (EVENTS_MAX, 1200, {"stalled": 1200})
    assert report.verdicts == ()


def test_two_starts_of_a_board_are_one_account(tmp_path: Path) -> None:
    report = report_of(run_of(tmp_path / "runs", ((1.0, 230.0, 0.5, 1400.0),), starts=2), OPENED_UTC_S)
    line = next(each for each in report.account if each["channels"][:1] == ["=1+1"])
    assert (line["promised"], line["stored"], line["starts_anew"]) == (2000, 2000, 1)


def test_alarms_of_this_run_are_taken_from_the_data_folder(run: Path) -> None:
    folder = run.parent.parent / "alarms"
    folder.mkdir(exist_ok=True)
    (folder / "bench.json").write_bytes(b"no JSON")
    assert alarms_of(run, "bench") is None
    ours, other = replace(NIGHT.alarms[0], run=run.name), NIGHT.alarms[1]  # type: ignore[index]  # it has three
    (folder / "bench.json").write_bytes(kept_text(Kept(State(1), (ours, other))))
    assert alarms_of(run, "bench") == (ours,)
    (folder / "bench.json").unlink()


def test_checks_of_the_wiring_are_listed_and_silence_between_the_last_sample_and_the_end_is_told(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    run = run_of(tmp_path / "runs", ((1.0, 230.0, 0.5, 1400.0),))
    add_check(run, {"far": {"word": "Does not run as wired", "below": "exchange Hall B and Hall C"}})
    report = report_of(run, OPENED_UTC_S)
    assert report.extras[-1].rows[1:] == (("1", "Does not run as wired", "exchange Hall B and Hall C"),)
    assert report.gone is None
    told = replace(NIGHT.alarms[0], run=run.name, at_utc_s=report.to_utc_s + 20.0)  # type: ignore[index]  # it has three
    add_dated(run, Dated("alarm", told.at_utc_s, None, asdict(told)))
    gone, ends = report_of(run, OPENED_UTC_S), summary_of(run)
    assert gone.gone == Hole(report.to_utc_s, ends.closed_utc_s, "no samples")  # type: ignore[arg-type]  # it has closed
    assert any("othing came after" in each for each in sentences(document_of(gone).parts))
    ends = replace(ends, closed_utc_s=report.to_utc_s + 1.0)
    monkeypatch.setattr("server.report.make.summary_of", lambda run: ends)
    assert report_of(run, OPENED_UTC_S).gone is None  # it went on up to its end, whatever was told of the motor then


def test_of_a_cable_that_is_out_until_the_service_stops_the_cable_is_the_reason_in_report_and_night(
    tmp_path: Path,
) -> None:
    library = Library(tmp_path / "runs")
    recording = Recording(RigSettings("bench"), library)
    recording.connected(OPENED_UTC_S)
    recording.chunk(TinyBoard().wire(((1.0, 230.0, 0.5, 1400.0),)), OPENED_UTC_S + 1.0)
    recording.disconnected(OPENED_UTC_S + 1.5)
    recording.stop(OPENED_UTC_S + 61.0)
    (left,) = library.runs()
    library.close()
    assert report_of(library.folder / left.name, OPENED_UTC_S).gone == Hole(
        OPENED_UTC_S + 1.0, OPENED_UTC_S + 61.0, "cable out"
    )
    life = Life("bench-7", Rank.ALARM, "Switch off", OPENED_UTC_S - 60.0, "It stands.", name="stalled")
    (tmp_path / "alarms").mkdir()
    kept = kept_text(Kept(State(8, {"stalled": Watching(active=True, life=life)})))
    (tmp_path / "alarms" / "bench.json").write_bytes(kept)
    so_far = report_of(library.folder / left.name, OPENED_UTC_S)  # it goes on up to now, and so does what stands
    assert (so_far.standing, [each.id for each in so_far.alarms or ()]) == ({"bench-7": True}, ["bench-7"])
    assert "one alarm stands from before" in " ".join(sentences(document_of(so_far).parts))
    night = logged(library.folder, [left], None, OPENED_UTC_S + 100.0).gone
    assert night is not None
    assert (night.to_utc_s, night.reason) == (OPENED_UTC_S + 61.0, "cable out")


def test_the_test_plan_of_the_rig_is_judged_by_all_its_runs(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    run = run_of(tmp_path / "runs")
    assert [each.title for each in report_of(run, OPENED_UTC_S).extras] == ["Duty"]
    (tmp_path / "plans").mkdir()
    (tmp_path / "plans" / "bench.toml").write_text(
        '[test]\nspecimen = "test fan"\nserial = "T-1"\ngoal_cycles = 40\n\n[readings.current_rms_a]\nhigh = 0.6\n'
    )
    not_yet = report_of(run, OPENED_UTC_S).extras[0]
    assert "undecided" in not_yet.sentence
    assert any("it was not summed up yet" in row[1] for row in not_yet.rows)
    write_digest(run, summed_up(run))
    plan = report_of(run, OPENED_UTC_S).extras[0]
    assert plan.title == "Test plan"
    assert plan.sentence.startswith(
        "test fan, serial number T-1, over all its runs so far: failed."
    )  # 0.7 A for a second
    assert re.fullmatch(
        rf"The test of test fan, T-1, has failed: .+ in (cycle 1 of )?{run.name}(, and \d+ more)?\.", plan.first
    )
    found = {row[0]: row[1] for row in plan.rows}
    assert re.fullmatch(r"[12] of 40", found["cycles"])
    assert any(row[0].startswith("limit passed, ") and run.name in row[1] for row in plan.rows)
    summed = read_digest(run)
    assert summed is not None
    (run / DIGEST).unlink()
    keep_so_far(run, SoFar(summed["evidence"], summed["missing_s"]), False)  # as it is before the run is summed up
    early = planned.plan_of(run, "bench", Times(OPENED_UTC_S, OPENED_UTC_S + 60.0))
    assert early is not None
    assert (early.sentence, early.rows[:2]) == (plan.sentence, plan.rows[:2])
    (run / f"{SO_FAR}.a1b2c3d4").touch()  # of a service that was killed while it wrote
    write_digest(run, summed)
    assert not list(run.glob(f"{SO_FAR}*"))
    monkeypatch.setattr(planned, "RUNS_MAX", 0)
    many = planned.plan_of(run, "bench", Times(OPENED_UTC_S, OPENED_UTC_S + 60.0))
    assert many is not None
    assert any("there are more than 500 runs" in row[1] for row in many.rows)
    later = 'begins = "2026-11-26T00:00:00Z"'  # of another specimen, on the next day
    (tmp_path / "plans" / "bench.toml").write_text(
        f'[test]\nspecimen = "fan"\nserial = "T-2"\ngoal_cycles = 4\n{later}\n'
    )
    none = report_of(run, OPENED_UTC_S).extras[0]
    assert re.fullmatch(
        r"This run is none of the test of fan, T-2: it counts runs since \d+ November 2026, .+\.", none.first
    )
    assert (none.sentence, none.rows) == (none.first, ())
    (tmp_path / "plans" / "bench.toml").write_text("[test]\ngoal = 1\n")
    assert report_of(run, OPENED_UTC_S).extras[0].sentence.startswith("The plan cannot be used: ")
