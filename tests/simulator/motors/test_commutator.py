"""All five motors with a commutator under controls drawn by chance: no energy is made, and nothing runs away."""

from random import Random

import pytest

from simulator.motors import MOTORS
from simulator.motors.motor import Motor

RATE_HZ = 20_000.0
DRAWN = (
    "supply_on", "supply_kind", "polarity", "triac_angle_deg", "switching_angle_deg", "field_reversed", "brush_wear",
    "bad_bar", "jammed", "turned_by_hand", "resistance_follows", "load_factor", "load_pulsation", "flicker_percent",
    "field_connected", "field_separate", "armature_reversed", "series_shorted", "series_reversed", "harmonic_3_percent",
)  # fmt: skip


@pytest.mark.parametrize("name", ["permanent_magnet_dc", "series_dc", "universal", "shunt_dc", "compound_dc"])
def test_whatever_is_changed_in_the_run_energy_is_lost_or_leaves_or_is_stored(name: str) -> None:
    """0.5 % of all that has gone in or out, after each of ten changes in each of eight runs."""
    model, draw = MOTORS[name], Random(name)
    controls = [control for control in model.controls if control.name in DRAWN]
    for _ in range(8):
        motor, moved_j, before = Motor(model, None, RATE_HZ), 0.0, None
        motor.set(supply_on=1, source_ohm=0.05, hand_rpm=200)
        for _ in range(10):
            changes = {}
            for control in draw.sample(controls, 3):
                whole = control.name == "supply_kind" or control.highest - control.lowest == 1
                value = draw.uniform(control.lowest, control.highest)
                changes[control.name] = float(round(value)) if whole else value
            motor.set(**changes)
            motor.advance(3001)
            energy = motor.energy
            if before is not None:
                moved_j += abs(energy.input - before.input) + abs(energy.shaft - before.shaft)
            before = energy
            assert energy.lost >= 0
            left_j = energy.input - energy.lost - energy.shaft - energy.stored
            assert abs(left_j) <= 0.005 * max(moved_j, abs(energy.input), 0.1), changes
