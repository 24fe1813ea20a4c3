"""A new story: what a motor that has stood for long has lost, and that the balance of energy knows it."""

from typing import Any

import numpy as np
import pytest

from simulator.motors import MOTORS
from simulator.motors.motor import Motor, Trace

Changes = dict[str, float]
AMBIENT_C = 35.0
ON: dict[str, Changes] = {
    "brushless": {"duty": 0.3, "current_limit_a": 40},
    "stepper": {"step_rate_hz": 200, "driver_v": 12},
    "servo": {"reference_rad_s": 100},
    "synchronous": {"rest_angle_deg": 30},
    "synchronous_reluctance": {"rest_angle_deg": 30},
}
# what an earlier story did: another supply, another load, what warms, what remembers
EARLIER: dict[str, Changes] = {
    "split_phase": {"cutout_fitted": 1, "start_device": 3, "mains_v": 250},
    "capacitor_start": {"start_device": 1},
    "stepper": {"step_rate_hz": 333, "coil_1_reversed": 1, "jammed": 0},
    "servo": {"reference_rad_s": -70, "reference_step_rad": 3},
    "brushless": {"duty": 0.5, "hall_floating": 1, "hall_intermittent": 2, "hall_pulses": 4},
    "synchronous": {"rest_angle_deg": 100},
    "universal": {"supply_kind": 2, "smoothing_uf": 100},
    "permanent_magnet_dc": {"supply_kind": 1, "battery_sag_v_per_ah": 100},
}


def _after_another(key: str) -> Motor:
    """A motor that has run hot, has been switched off and stands."""
    motor = Motor(MOTORS[key])
    usual = dict(motor.controls)
    motor.set(supply_on=1, load_swing_n_m=1e-4, load_swing_hz=7.3, **EARLIER.get(key, {}))
    motor.advance(13_577)
    if "mains_v" in usual:
        motor.set(flicker_percent=10)
    motor._state["winding_c"], motor._state["case_c"] = 90.0, 70.0
    motor.advance(7_919)
    motor.set(supply_on=0, load_torque_n_m=0.02 if key != "brushless" else 1)
    motor.advance(20_000)
    motor.set(jammed=1)
    motor.advance(20_000)
    motor.set(**usual)
    motor.advance(2_000)
    return motor


def _begun(motor: Motor, changes: Changes) -> Trace:
    motor.set(ambient_c=AMBIENT_C, resistance_follows=1, supply_on=0)
    motor.renew()
    motor.advance(200)
    motor.set(supply_on=1, **changes)
    return motor.advance(10_000)


def _name(model: Any, name: str) -> int:
    return int(model.truths.index(name))


@pytest.mark.parametrize("key", MOTORS)
def test_a_story_plays_alike_alone_and_after_another(key: str) -> None:
    """Where the shaft stands is not set back, so ripple and pulses may lie elsewhere."""
    changes = ON.get(key, {})
    alone, later = _begun(Motor(MOTORS[key]), changes), _begun(_after_another(key), changes)
    for name in ("winding_c", "case_c"):
        row = _name(MOTORS[key], name)
        assert later.truths[row] == pytest.approx(alone.truths[row], abs=0.05), name
    top = np.max(np.abs(alone.speed_rad_s))
    assert top > 1
    if key != "stepper":  # it swings about every step
        share = 0.05 if key == "brushless" else 0.02  # it begins anywhere in the sector of a Hall state
        assert later.speed_rad_s == pytest.approx(alone.speed_rad_s, abs=share * top)
    rows = [3, 8] if key == "brushless" else slice(None)  # currents depend on the sector in which it begins
    ours, others = (np.sqrt(np.mean(trace.values[rows] ** 2, axis=1)) for trace in (alone, later))
    assert others == pytest.approx(ours, rel=0.01, abs=1e-6)


@pytest.mark.parametrize("key", MOTORS)
def test_what_vanishes_with_an_earlier_story_is_in_the_balance(key: str) -> None:
    motor = _after_another(key)
    before = motor.energy
    motor.renew()
    after = motor.energy
    assert after.input == before.input
    assert after.lost >= before.lost
    all_before, all_after = before.lost + before.shaft + before.stored, after.lost + after.shaft + after.stored
    assert all_after == pytest.approx(all_before, rel=1e-12)


def test_the_steps_of_a_stepper_begin_at_nothing_where_its_first_one_holds_it() -> None:
    motor = _after_another("stepper")
    level = motor.state
    motor.set(supply_on=1)
    motor.renew()
    assert motor.state == level
    trace = motor.advance(2_000)
    assert np.max(np.abs(trace.truths[2:])) < 1e-6
    assert np.ptp(trace.angle_rad) < 1e-9


def test_a_charged_capacitor_is_empty_and_its_energy_lost() -> None:
    motor = Motor(MOTORS["capacitor_start"])
    motor.set(supply_on=1)
    motor.advance(20_000)
    motor.set(supply_on=0)
    held_v = motor.advance(2_000).truths[4, -1]
    assert abs(held_v) > 50
    before = motor.energy
    motor.renew()
    assert motor.energy.lost - before.lost == pytest.approx(0.5 * 80e-6 * held_v**2, rel=1e-9)
    assert motor.advance(1).truths[4, 0] == 0
