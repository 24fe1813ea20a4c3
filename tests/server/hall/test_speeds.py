"""Speeds over different stretches of the same edges, with sensors that sit badly and magnets that are not even."""

from dataclasses import replace

import numpy as np
import pytest

from firmware_protocol import InputKind
from server.config import Plate
from server.hall import edge_readings
from server.quantities import shaft_readings
from server.readings import Confidence, Reading
from server.samples import EdgeTrain, Input, Part
from tests.server.hall.shafts import FORWARD_120, HALLS, pulse_input, pulses, train, turning

S = 1_000_000
SEVEN = Plate(pole_pairs=7)


def thruster(
    rpm: float, end_s: float, *, per_s2: float = 0.0, seed: int = 3, magnets: float | None = None
) -> EdgeTrain:
    """Seven pole pairs, sensors within 8 and magnets within 2 electrical degrees, jitter of 2 us; `per_s2`: r/min/s.

    `magnets`: these as RMS instead.
    """
    draw = np.random.default_rng(seed)
    places, k = draw.uniform(-8, 8, 3), np.arange(round((rpm + max(per_s2, 0.0)) / 60 * 42 * end_s * 1.2))
    uneven = draw.uniform(-2, 2, 42) if magnets is None else draw.normal(0, magnets, 42)
    late = (places[k % 3] + uneven[k % 42]) / 60
    position = (k + late) / 42 * 60  # in turns times 60
    times = (np.sqrt(rpm**2 + 2 * per_s2 * position) - rpm) / per_s2 if per_s2 else position / rpm
    ticks = np.rint((times + 0.01 + draw.normal(0, 2e-6, k.size)) * S).astype(int)
    edges = [(int(tick), FORWARD_120[at % 6]) for at, tick in zip(k, ticks, strict=True) if tick <= end_s * S]
    return train(HALLS, edges, before=4, known_to=round(end_s * S))


def speeds(edges: EdgeTrain, end_s: float, plate: Plate = SEVEN, clock: float = 50e-6) -> dict[str, Reading]:
    """`clock`: the board states that its clock is within this."""
    said = replace(edges, clock=Part(clock / 3**0.5))
    found = shaft_readings(said, round((end_s - 0.2) * S), round(end_s * S), plate, 5.0)
    return {each.id: each for each in found}


def error(reading: Reading, truth: float) -> float:
    assert isinstance(reading.value, float), reading
    return abs(reading.value / truth - 1)


def test_each_stretch_cancels_another_error() -> None:
    worst = dict.fromkeys(("one period", "electrical turn", "mechanical turn", "window"), 0.0)
    for seed in range(20):
        found = speeds(thruster(1500, 1.0, seed=seed), 1.0)
        for place in worst:
            worst[place] = max(worst[place], error(found[f"edge_speed_rpm.{place}"], 1500))
        assert error(found["speed_rpm"], 1500) == error(found["edge_speed_rpm.window"], 1500)
        assert found["speed_source"].value == "edges of the window"
    assert worst["one period"] > 0.05  # sensors
    assert 0.02 > worst["electrical turn"] > 1e-3  # magnets
    assert worst["mechanical turn"] < 3e-4  # jitter of two edges
    assert worst["window"] < 2e-5  # jitter of all


def test_below_a_turn_in_the_window_earlier_turns_teach_where_edges_sit() -> None:
    found = speeds(thruster(200, 5.0), 5.0)
    assert found["edge_speed_rpm.window"].confidence is Confidence.ABSENT
    assert error(found["edge_speed_rpm.placed edges"], 200) < 1e-4
    assert error(found["edge_speed_rpm.electrical turn"], 200) > 5 * error(found["edge_speed_rpm.placed edges"], 200)
    assert found["speed_source"].value == "one electrical turn"


@pytest.mark.parametrize("per_s2", [300.0, -150.0])
def test_acceleration_is_that_of_the_shaft(per_s2: float) -> None:
    for rpm in (400.0, 1500.0):
        found = speeds(thruster(rpm, 1.0, per_s2=per_s2), 1.0)
        value = found["angular_acceleration_rad_s2"].value
        assert value == pytest.approx(per_s2 * np.pi / 30, rel=0.25 if rpm < 1000 else 0.02)
        assert error(found["speed_rpm"], rpm + per_s2 * 0.95) < 0.02  # at most half a window old


def test_a_slowing_shaft_backward_has_a_positive_acceleration() -> None:
    draw = np.random.default_rng(1)
    k = np.arange(400)
    times = k / 42 / 20 * (1 + 2e-4 * k) + draw.normal(0, 1e-6, 400)  # slower and slower
    edges = [(round((0.01 + time) * S), FORWARD_120[-at % 6]) for at, time in zip(k, times, strict=True)]
    found = speeds(train(HALLS, edges, before=1), edges[-1][0] / S)
    speed, acceleration = found["speed_rpm"].value, found["angular_acceleration_rad_s2"].value
    assert isinstance(speed, float)
    assert isinstance(acceleration, float)
    assert speed < 0 < acceleration


@pytest.mark.parametrize("clock", [50e-6, 1e-8])
def test_the_interval_holds_the_true_speed_in_95_of_100_cases(clock: float) -> None:
    draw = np.random.default_rng(8)
    inside = dict.fromkeys(("electrical turn", "mechanical turn", "window", "placed edges"), 0)
    made = dict.fromkeys(inside, 0)
    for seed in range(150):
        rpm = draw.uniform(700, 3000) if seed % 2 else draw.uniform(100, 550)
        off, end_s = draw.uniform(-clock, clock), 0.6 if seed % 2 else 3.0 + 0.5 * draw.random()
        found = speeds(thruster(rpm, end_s, seed=seed, magnets=0.6), end_s, clock=clock)
        for place in inside:
            interval = found[f"edge_speed_rpm.{place}"].uncertainty
            if interval is not None:
                assert [word for word, _ in interval.parts][-1] == "board's clock"
                made[place] += 1
                inside[place] += interval.low <= rpm * (1 + off) <= interval.high
    for place, times in made.items():
        assert times >= 60
        assert inside[place] >= 0.9 * times, place


def test_one_pulse_a_turn_is_fitted_over_the_window() -> None:
    draw = np.random.default_rng(4)
    times = np.arange(120) * 0.02 + draw.normal(0, 20e-6, 120)
    found = speeds(train(pulse_input(), pulses(times)), 2.005, Plate())
    interval = found["speed_rpm"].uncertainty
    assert found["speed_source"].value == "edges of the window"
    assert interval is not None
    assert interval.low < 3000 < interval.high
    assert interval.half < 5
    assert found["mechanical_deg"].value == pytest.approx(360 * (2.005 - times[100]) / 0.02, abs=1.0)


def test_uneven_pulses_of_a_disc_cancel_over_whole_turns() -> None:
    disc = np.array([0.0, 0.27, 0.48, 0.76])  # of a turn
    times = (np.arange(60)[:, np.newaxis] + disc).ravel() * 0.03
    inputs = (Input(0, InputKind.PULSE, "disc", 0, 4),)
    found = speeds(train(inputs, pulses(times, 0.001)), 1.0, Plate())
    assert error(found["speed_rpm"], 2000) < 1e-4
    assert error(found["edge_speed_rpm.one period"], 2000) > 0.02


def test_the_angle_of_the_shaft_needs_one_pulse_a_turn_or_one_pole_pair() -> None:
    edges = turning(1000, 1, 61)
    found = speeds(train(HALLS, edges, before=4), edges[-1][0] / S, Plate(pole_pairs=1))
    assert found["mechanical_deg"].value == found["electrical_deg"].value
    assert "7 pole pairs" in speeds(thruster(1500, 1.0), 1.0)["mechanical_deg"].reason


def test_a_shaft_that_stands_has_no_other_speeds() -> None:
    found = speeds(train(HALLS, turning(1000, 7, 200), before=4, known_to=10 * S), 9.0)
    assert found["speed_rpm"].value == 0.0
    others = [each for key, each in found.items() if key.startswith(("edge_speed", "angular"))]
    assert len(others) == 6
    assert {each.confidence for each in others} == {Confidence.ABSENT}


def test_what_earlier_turns_taught_is_doubtful_where_an_edge_among_them_may_be_missing() -> None:
    edges = thruster(400, 1.0)
    lost = EdgeTrain(
        *(edges.inputs, edges.tick_hz, edges.before, edges.ticks, edges.states),
        *(edges.known_from_tick, edges.known_to_tick, ((600_000, 610_000),)),
    )
    found = {each.id: each for each in edge_readings(lost, 800_000, S, SEVEN).readings}
    assert found["edge_speed_rpm.placed edges"].confidence is Confidence.DOUBTFUL
    assert found["edge_speed_rpm.window"].confidence is Confidence.GOOD
