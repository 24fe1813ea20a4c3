"""What a run has to say to a test plan: extremes that held, temperatures, counts; alike however the stream is cut."""

import json
from dataclasses import replace
from typing import Any

import pytest

from server.config import RigSettings
from server.pipeline import Output, Pipeline
from server.readings import Instant, Reading, doubtful
from server.stream.clock import Clock
from server.test_plan.evidence import MOMENTS_MAX, Evidence
from server.test_plan.extremes import HELD, IDS_MAX, Extremes
from server.test_plan.warmth import PLACES_MAX, POINTS_MAX, STEP_S, Warmth
from server.verdict import Certainty, Sign, Speaks, Verdict
from tests.server.duty.tiny_cycles import CYCLE, REST
from tests.server.tiny_board import TinyBoard


def instant(number: int, *readings: Reading) -> Instant:
    return Instant(0, 0, 0.2 * number, 0.2, readings)


def of(*cuts: int) -> dict[str, Any]:
    pipeline, evidence, data = Pipeline(RigSettings("r")), Evidence(), TinyBoard().wire((REST, *CYCLE * 2))
    for begin, end in zip((0, *cuts), (*cuts, len(data)), strict=True):
        for part in pipeline.push(data[begin:end], 0.0).parts:
            evidence.take(part)
    return json.loads(json.dumps(evidence.record(pipeline), allow_nan=False))  # type: ignore[no-any-return]


@pytest.mark.parametrize("share", [0.3, 0.6, 0.9])
def test_what_goes_on_from_a_record_comes_to_what_was_never_kept(share: float) -> None:
    data = TinyBoard().wire((REST, *CYCLE * 2))
    cut, pipeline, evidence = int(share * len(data)), Pipeline(RigSettings("r")), Evidence()
    for part in pipeline.push(data[:cut], 0.0).parts:
        evidence.take(part)
    evidence = Evidence(json.loads(json.dumps(evidence.record(None))))
    for part in pipeline.push(data[cut:], 0.0).parts:
        evidence.take(part)
    told, whole = evidence.record(pipeline), of(cut)
    windows = ("extremes", "temperatures")  # those on the way to a witness, or to a mean, when it was kept begin anew
    assert {key: each for key, each in told.items() if key not in windows} == {
        key: each for key, each in whole.items() if key not in windows
    }
    low, _, high, _ = told["extremes"]["running"]["current_rms_a"]
    assert [low, high] == pytest.approx(whole["extremes"]["running"]["current_rms_a"][::2], rel=1e-3)


def test_what_was_told_stays_as_it_was_while_more_comes() -> None:
    data, pipeline, evidence = TinyBoard().wire((REST, *CYCLE * 2)), Pipeline(RigSettings("r")), Evidence()
    cut = len(data) // 2
    for part in pipeline.push(data[:cut], 0.0).parts:
        evidence.take(part)
    told = evidence.record(pipeline)
    before = json.dumps(told)
    for part in pipeline.push(data[cut:], 0.0).parts:
        evidence.take(part)
    assert json.dumps(told) == before, "it is read by another thread meanwhile"
    assert evidence.record(pipeline)["moments"] != told["moments"]


def test_the_cycle_under_way_when_it_was_kept_is_one_of_those_before() -> None:
    kept = of()
    assert (kept["duty"]["cycles"], kept["duty"]["under_way"]["number"]) == (1, 2)
    again = Evidence(kept).record(None)["duty"]
    assert (again["cycles"], again["starts"], again["under_way"]) == (2, 2, None)
    assert again["table"] == [*kept["duty"]["table"], kept["duty"]["under_way"]]
    assert again["on_s"] == pytest.approx(4.0, abs=0.1)


def test_one_window_alone_is_no_witness() -> None:
    extremes = Extremes()
    values = [1.0] * HELD + [9.0] + [1.0] * HELD + [5.0] * HELD + [0.0] * (HELD - 1)
    for number, value in enumerate(values):
        extremes.take(instant(number, Reading("current_rms_a", value)), float(number))
    first, held = HELD - 1.0, 3.0 * HELD
    assert extremes.record()["any"] == {"current_rms_a": [1.0, first, 5.0, held]}
    assert extremes.record()["running"] == {}


def test_only_good_readings_count_and_a_doubtful_one_breaks_the_row() -> None:
    extremes, good = Extremes(), Reading("current_rms_a", 9.0)
    for number in range(20):
        extremes.take(instant(number, doubtful(good, "clipped") if number % 3 == 0 else good), 0.0)
    assert extremes.record()["any"] == {}


def test_while_running_is_told_apart_from_all_of_the_run() -> None:
    extremes = Extremes()
    for number, (state, value) in enumerate([("starting", 6.0)] * HELD + [("running", 2.0)] * HELD):
        extremes.take(instant(number, Reading("run_state", state), Reading("current_rms_a", value)), 0.0)
    assert extremes.record()["any"]["current_rms_a"][2] == 6.0
    assert extremes.record()["running"]["current_rms_a"] == [2.0, 0.0, 2.0, 0.0]


def test_temperatures_are_means_of_five_minutes() -> None:
    warmth = Warmth()
    for number in range(3000):
        warmth.take(instant(number, Reading("temperature_c", 20.0 + number // 1500, place="housing")), 0.2 * number)
    assert warmth.record() == {"temperature_c.housing": [[STEP_S / 2, 20.0], [1.5 * STEP_S, 21.0]]}


def test_a_run_tells_cycles_events_and_the_cycle_under_way() -> None:
    told = of()
    assert told["duty"]["starts"] == 1
    assert told["duty"]["under_way"]["ended"] is False
    count, first_utc_s, _ = told["events"]["power_on"]
    assert (count, len(told["moments"]["power_on"]), told["moments"]["power_on"][0]) == (2, 2, first_utc_s)
    ends = told["extremes"]["running"]["current_rms_a"]
    assert (ends[0], ends[2]) == (pytest.approx(0.5, rel=0.01), pytest.approx(0.5, rel=0.01))


def test_the_same_is_told_however_the_stream_is_cut() -> None:
    assert without_times(of(1000, 1001, 7777, 40_000)) == without_times(of())


def without_times(told: dict[str, Any]) -> object:
    """UTC is by arrival, so it depends on the cuts."""
    duty = {**told["duty"], "under_way": None}
    duty["table"] = [{**each, "utc_s": 0.0} for each in duty["table"]]
    ends = {name: (its[0], its[2]) for name, its in told["extremes"]["any"].items()}
    return duty, ends, {kind: its[0] for kind, its in told["events"].items()}


def test_what_a_run_tells_is_bounded() -> None:
    evidence, pipeline = Evidence(), Pipeline(RigSettings("r"))
    output = pipeline.push(TinyBoard().wire((REST, *CYCLE)), 0.0)
    for _ in range(400):
        for event in output.events:
            events = event, replace(event, kind=f"{event.kind} {_}")
            evidence.take(replace(output, events=events, cycles=(), instants=()))
    clock = Clock(1e6, low_s=0.0, high_s=0.0)
    open_phase = Verdict("phase_open", "?", "Open.", Certainty.PLAIN, (Sign(Speaks.FOR, "0 A"),))
    warm = instant(0, *(Reading("temperature_c", 20.0, place=str(place)) for place in range(PLACES_MAX + 4)))
    for k in range(POINTS_MAX + 20):
        evidence.take(Output(instants=(replace(warm, board_s=STEP_S * k),), clock=clock))
    for k in range(HELD):
        of_many = [Reading("current_rms_a", 1.0, place=str(place)) for place in range(IDS_MAX + 100)]
        evidence.take(Output(instants=(instant(k, *of_many),), clock=clock))
    for k in range(400):
        evidence.take(Output(verdicts=(replace(open_phase, key=f"phase {k}"),)))
    told = evidence.record(pipeline)
    assert (len(told["events"]), len(told["verdicts"])) == (200, 200)
    assert (len(told["moments"]), max(map(len, told["moments"].values()))) == (200, MOMENTS_MAX)
    assert max(count for count, _, _ in told["events"].values()) > MOMENTS_MAX
    assert len(told["extremes"]["any"]) == IDS_MAX
    assert [len(each) for each in told["temperatures"].values()] == [POINTS_MAX + 1] * PLACES_MAX  # and the open step
    assert told["duty"]["cycles"] == 0  # `test_table` has many
