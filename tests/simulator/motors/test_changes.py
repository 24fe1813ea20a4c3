"""What a change of the controls must not disturb, over all types that it concerns."""

import numpy as np
import pytest

from simulator.motors import MOTORS
from simulator.motors.motor import Motor
from tests.simulator.motors.cases import batch, run

L1_A, LINE_A = 3, 2
SWINGS: dict[str, tuple[dict[str, float], float]] = {
    "servo": ({"reference_rad_s": 100}, 0.05),
    "stepper": ({"step_rate_hz": 500}, 0.05),
    "brushless": ({"duty": 0.7}, 0.5),
}


@pytest.mark.parametrize(
    ("key", "line_a"),
    [("three_phase_induction", L1_A), ("synchronous", LINE_A), ("permanent_split_capacitor", LINE_A)],
)
def test_the_arc_of_a_direct_current_burns_20_ms_also_after_an_opening_that_was_taken_back(
    key: str, line_a: int
) -> None:
    motor = Motor(MOTORS[key])
    motor.set(supply_on=1, mains_v=0, direct_v=30)
    motor.advance(6_000)
    motor.set(supply_on=0)
    motor.advance(300)
    motor.set(supply_on=1)
    motor.advance(2_000)
    motor.set(supply_on=0)
    arc = np.abs(motor.advance(500).values[line_a])
    assert np.all(arc[:390] > 0)
    assert np.all(arc[405:] == 0)


@pytest.mark.parametrize("key", SWINGS)
def test_a_load_that_swings_goes_on_from_where_it_is_when_its_frequency_changes(key: str) -> None:
    """At 3 Hz its load passes zero after 1 s; read from the energy that leaves through the shaft."""
    controls, swing_n_m = SWINGS[key]
    motor = Motor(MOTORS[key])
    motor.set(supply_on=1, load_swing_n_m=swing_n_m, **controls)
    motor.advance(20_000)
    motor.set(load_swing_hz=7.25)
    before_j = motor.energy.shaft
    angle_rad = motor.advance(21).angle_rad
    load_n_m = (motor.energy.shaft - before_j) / (angle_rad[-1] - angle_rad[0])
    assert abs(load_n_m) < 0.05 * swing_n_m
    before_j = motor.energy.shaft
    motor.advance(round(20_000 / 7.25 / 4) - 31)
    before_j = motor.energy.shaft
    angle_rad = motor.advance(21).angle_rad
    load_n_m = (motor.energy.shaft - before_j) / (angle_rad[-1] - angle_rad[0])
    assert load_n_m == pytest.approx(swing_n_m, rel=0.1)


@pytest.mark.parametrize("key", [key for key in MOTORS if key != "brushless"])
def test_a_jam_leaves_nothing_of_the_motion_not_even_its_slope(key: str) -> None:
    model = MOTORS[key]
    motor = next(iter(model.parameter_sets.values()))
    cases, states = batch(model, [(motor, {"jammed": 1})])
    states["speed_rad_s"], states["slope_rad_s2"] = 10.0, 500.0
    run(model, cases, states, 0.0)
    assert states["speed_rad_s"] == states["slope_rad_s2"] == 0
    assert states["energy_j"][0, 2] == pytest.approx(0.5 * cases["load"]["inertia_kg_m2"][0] * 10**2)


@pytest.mark.parametrize("key", ["series_dc", "shunt_dc"])
def test_only_a_battery_counts_the_charge_that_it_gives(key: str) -> None:
    model = MOTORS[key]
    motor = next(iter(model.parameter_sets.values()))
    kinds: list[dict[str, float]] = [{"supply_kind": kind, "mains_v": 20} for kind in (1, 2, 3)]
    cases, states = batch(model, [(motor, kind) for kind in kinds])
    run(model, cases, states, 0.2)
    assert states["charge_c"][0] > 0.1
    assert not np.any(states["charge_c"][1:])
