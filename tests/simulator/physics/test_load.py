"""What a shaft drives: torques against speed, and what stops or turns it."""

from math import pi
from typing import Any

import numpy as np
import pytest

from simulator.physics.control import initial
from simulator.physics.load import (
    LOAD,
    LOAD_CONTROLS,
    fill_load,
    friction_n_m,
    load_n_m,
)

SPEEDS = np.linspace(-300, 300, 61)


def load_of(own_dry: float = 0.0, own_viscous: float = 0.0, fan: float = 0.0, **controls: float) -> Any:
    record = np.zeros(1, LOAD)
    fill_load(
        record[0], {**initial(LOAD_CONTROLS), **controls}, inertia_kg_m2=0.01, dry_n_m=own_dry,
        viscous_n_m_s=own_viscous, fan_n_m_s2=fan,
    )  # fmt: skip
    return record[0]


def test_a_dry_load_opposes_either_way_in_full_and_nothing_holds_at_rest() -> None:
    load = load_of(load_torque_n_m=2)
    assert [load_n_m(load, w, 0.0, 0.0) for w in (-100.0, 0.0, 100.0)] == [-2, 0, 2]
    near = [load_n_m(load, w, 0.0, 0.0) for w in (0.1, 0.5, 5.0)]
    assert near == pytest.approx(2 * np.tanh([0.2, 1, 10]))


def test_no_load_ever_drives_the_shaft() -> None:
    load = load_of(0.1, 1e-3, 2e-5, load_torque_n_m=1, load_pulsation=1, load_friction_n_m_s=0.01)
    for w in SPEEDS:
        for angle in (0.0, 1.6, 4.7):
            assert load_n_m(load, w, angle, 0.0) * w >= 0
        assert friction_n_m(load, w) * w >= 0


def test_a_fan_takes_the_square_of_the_speed_times_its_factor() -> None:
    load = load_of(fan=2e-5, load_factor=1.4)
    assert [load_n_m(load, w, 0.0, 0.0) for w in SPEEDS] == pytest.approx(1.4 * 2e-5 * SPEEDS * np.abs(SPEEDS))
    assert load_n_m(load, 200.0, 0.0, 0.0) / load_n_m(load, 100.0, 0.0, 0.0) == pytest.approx(4)


def test_a_compressor_pulsates_once_a_turn_about_its_mean() -> None:
    load, angles = load_of(load_torque_n_m=6.1, load_pulsation=0.6), 2 * pi * np.arange(360) / 360
    torques = np.array([load_n_m(load, 150.0, angle, 0.0) for angle in angles])
    assert torques == pytest.approx(6.1 * (1 + 0.6 * np.sin(angles)))
    assert np.mean(torques) == pytest.approx(6.1)


def test_a_load_that_swings_in_time_is_added_to_the_dry_one() -> None:
    load = load_of(load_torque_n_m=2, load_swing_n_m=0.5, load_swing_hz=3)
    assert load_n_m(load, 150.0, 0.0, 0.8) == pytest.approx(2.4)
    assert load["swing_rad_s"] == pytest.approx(6 * pi)


def test_motor_and_load_are_one_inertia_and_the_motors_own_friction_is_no_load() -> None:
    load = load_of(0.1, 1e-3, load_torque_n_m=1, load_inertia_kg_m2=0.03)
    assert load["inertia_kg_m2"] == pytest.approx(0.04)
    assert load_n_m(load, 100.0, 0.0, 0.0) == pytest.approx(1)
    assert friction_n_m(load, 100.0) == pytest.approx(0.1 + 0.1)


def test_a_jam_and_a_hand_are_taken_as_they_are_told() -> None:
    load = load_of(jammed=1, turned_by_hand=1, hand_rpm=60)
    assert (load["held"], load["by_hand"]) == (1, 1)
    assert load["hand_rad_s"] == pytest.approx(2 * pi)
