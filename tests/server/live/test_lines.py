"""JSON lines: one object each, keys of the catalogue, reasons beside, never NaN."""

import json
from dataclasses import dataclass
from math import inf, nan

import pytest

from firmware_protocol import PROTOCOL_MAJOR, PROTOCOL_MINOR
from server.config import RigSettings
from server.live.lines import lines_of, mark_line
from server.pipeline import Output, Pipeline
from server.quantities import QUANTITIES
from server.readings import Confidence, DamageReport, Event, Instant, Reading, absent
from tests.server.duty.tiny_cycles import CYCLE, REST
from tests.server.tiny_board import TinyBoard

OUTPUT = Pipeline(RigSettings("r")).push(TinyBoard().wire(), 0.0)
LINES = [json.loads(line) for line in lines_of(OUTPUT)]


@dataclass
class Synchronised:
    uncertainty_s: float | None = 0.002
    drift_ppm: float | None = None

    def utc_s(self, board_s: float) -> float:
        return 1.8e9 + board_s


def test_each_line_is_one_object_with_its_kind_and_the_description_comes_first() -> None:
    assert {line["kind"] for line in LINES} == {"described", "readings", "event"}
    assert LINES[0]["kind"] == "described"
    assert (LINES[0]["serial"], LINES[0]["protocol"]) == ("T-1", f"{PROTOCOL_MAJOR}.{PROTOCOL_MINOR}")
    assert LINES[0]["channels"][2] == {
        "index": 2,
        "role": "temperature",
        "name": "housing",
        "place": "housing",
        "unit": "°C",
        "rate_hz": None,
    }


def test_readings_stand_under_the_keys_of_the_catalogue() -> None:
    known = {each.key for each in QUANTITIES}
    fixed = {"kind", "board_s", "interval_s", "doubtful", "absent", "u95"}
    keys = {key.split(".")[0] for line in LINES if line["kind"] == "readings" for key in line} - fixed
    assert keys <= known
    assert {"current_rms_a", "temperature_c", "run_state"} <= keys


def test_absent_is_null_with_its_reason_and_doubtful_has_one_too() -> None:
    line = LINES[1]
    assert line["speed_rpm"] is None
    assert line["absent"]["speed_rpm"]
    assert line["run_state"] == "unknown"
    assert "not confirmed" in line["doubtful"]["run_state"]
    good = next(line for line in LINES if line["kind"] == "readings" and line.get("run_state") == "running")
    assert "run_state" not in good.get("doubtful", {})


def test_a_line_says_what_its_numbers_may_be_off_by_where_that_is_known() -> None:
    line = next(line for line in LINES if line.get("run_state") == "running")
    assert 0.0 < line["u95"]["speed_rpm"] < 0.02 * line["speed_rpm"]
    assert set(line["u95"]) <= set(line) - set(line["doubtful"])
    assert "voltage_rms_v" not in line["u95"]  # this board states no limit for its gain


def test_what_is_no_number_is_never_written() -> None:
    readings = (Reading("a", nan), Reading("b", (1.0, inf)), Reading("c", 3), absent("d", "why"))
    (text,) = lines_of(Output(instants=(Instant(0, 1, 1.0, 0.2, readings),)))
    line = json.loads(text)
    assert [line[key] for key in "abcd"] == [None, None, 3, None]
    assert line["absent"] == {"a": "our own fault: it came out as no number", "b": line["absent"]["a"], "d": "why"}


def test_events_stand_among_the_readings_by_board_time() -> None:
    times = [line["board_s"] for line in LINES if line["kind"] in ("readings", "event")]
    assert times == sorted(times)


def test_times_made_of_ticks_are_told_to_a_microsecond() -> None:
    event = Event("stalled", 50.529999999999994, "Stalled")
    (text,) = lines_of(Output(events=(event,)), Synchronised(uncertainty_s=0.00045943260192871094))
    assert text.startswith('{"kind":"event","board_s":50.53,"utc_s":1800000050.53,"utc_uncertainty_s":0.000459,')


def test_utc_is_written_only_while_the_clock_is_synchronised() -> None:
    output = Output(
        events=(Event("stalled", 2.0, "Stalled"),), damage=(DamageReport("lost", None, "Frames did not come"),)
    )
    damage, event = (json.loads(line) for line in lines_of(output, Synchronised()))
    assert (event["utc_s"], event["utc_uncertainty_s"]) == (1.8e9 + 2.0, 0.002)
    assert "utc_s" not in damage
    assert "utc_s" not in json.loads(list(lines_of(output, Synchronised(None)))[1])


def test_a_mark_is_a_line_of_its_own_and_a_line_holds_no_line_end() -> None:
    line = mark_line("The cable\nwas out", 5.0)
    assert line.count("\n") == 1
    assert json.loads(line) == {"kind": "mark", "utc_s": 5.0, "text": "The cable\nwas out"}


def test_confidence_of_every_reading_can_be_read_back() -> None:
    told = [line for line in LINES if line["kind"] == "readings"]
    for instant, line in zip(sorted(OUTPUT.instants, key=lambda each: each.board_s), told, strict=True):
        for reading in instant.readings:
            where = (
                "absent"
                if reading.id in line.get("absent", {})
                else "doubtful"
                if reading.id in line.get("doubtful", {})
                else "good"
            )
            assert where == reading.confidence
            assert reading.confidence is not Confidence.GOOD or line[reading.id] is not None


def test_a_cycle_that_ended_is_a_line_with_its_figures_and_what_is_missing_of_them() -> None:
    told = Pipeline(RigSettings("r")).push(TinyBoard().wire((REST, *CYCLE * 2)), 0.0)
    (line,) = [each for each in map(json.loads, lines_of(told)) if each["kind"] == "cycle"]
    assert (line["number"], line["begun"], line["ended"], line["board_s"]) == (1, "seen", True, 1.0)
    assert line["on_time_s"] == pytest.approx(2.0, abs=0.02)
    assert line["u95"]["on_time_s"] < 0.02
    assert "reasons" not in line
