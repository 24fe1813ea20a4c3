"""One step of a shaft: dry friction that holds and never drives, however stiff, and powers that add up."""

from math import pi
from typing import Any

import numpy as np
import pytest

from simulator.physics.control import initial
from simulator.physics.load import LOAD, LOAD_CONTROLS, fill_load
from simulator.physics.shaft import held_still, turned

STEP_S = 50e-6


def loaded(inertia_kg_m2: float, dry_n_m: float = 0.0, viscous: float = 0.0, **controls: float) -> Any:
    load = np.zeros(1, dtype=LOAD)
    fill_load(
        load[0],
        {**initial(LOAD_CONTROLS), **controls},
        inertia_kg_m2=inertia_kg_m2,
        dry_n_m=dry_n_m,
        viscous_n_m_s=viscous,
        fan_n_m_s2=1e-5,
    )
    return load[0]


def run(load: Any, w: float, torque_n_m: float, seconds: float) -> tuple[Any, float, float]:
    """Speeds, own loss and what left by the shaft, in J."""
    speeds, own_j, shaft_j = [w], 0.0, 0.0
    for _ in range(round(seconds / STEP_S)):
        w, own_w, shaft_w = turned(load, torque_n_m, w, 0.0, 0.0, STEP_S)
        speeds.append(w)
        own_j, shaft_j = own_j + own_w * STEP_S, shaft_j + shaft_w * STEP_S
    return np.array(speeds), own_j, shaft_j


def test_a_viscous_shaft_runs_down_with_its_time_constant() -> None:
    speeds, own_j, _ = run(loaded(1e-3, viscous=1e-3, load_factor=0), 100.0, 0.0, 1.0)
    assert speeds[-1] == pytest.approx(100 * np.exp(-1), rel=1e-6)
    assert own_j == pytest.approx(0.5e-3 * (100**2 - speeds[-1] ** 2), rel=1e-7)


def test_a_fan_slows_a_shaft_as_its_square_law_says() -> None:
    """dw/dt = -k w w / J: w = w_0 / (1 + k w_0 t / J)."""
    speeds, _, shaft_j = run(loaded(1e-3), 300.0, 0.0, 1.0)
    assert speeds[-1] == pytest.approx(300 / (1 + 1e-5 * 300 / 1e-3), rel=1e-6)
    assert shaft_j == pytest.approx(0.5e-3 * (300**2 - speeds[-1] ** 2), rel=1e-7)


@pytest.mark.parametrize("dry_n_m", [0.1, 10.0, 1000.0])
def test_dry_friction_stops_a_shaft_and_never_turns_it_round(dry_n_m: float) -> None:
    speeds, _, _ = run(loaded(1e-5, dry_n_m=dry_n_m, load_factor=0), 300.0, 0.0, 0.1)
    assert speeds.min() >= 0
    assert speeds[-1] == pytest.approx(0, abs=1e-3)
    assert np.all(np.diff(speeds) <= 0)


def test_below_the_dry_friction_a_torque_makes_it_creep_by_the_tanh_at_most() -> None:
    speeds, _, _ = run(loaded(1e-4, dry_n_m=1.0), 0.0, 0.5, 0.2)
    assert speeds[-1] == pytest.approx(0.5 * np.arctanh(0.5), rel=1e-3)


def test_a_held_shaft_stands_and_a_hand_brings_it_to_its_speed_whatever_the_torque() -> None:
    assert run(loaded(1e-3, jammed=1), 0.0, 5.0, 0.01)[0].max() == 0
    load = loaded(1e-3, dry_n_m=0.1, turned_by_hand=1, hand_rpm=60)
    speeds, own_j, shaft_j = run(load, 0.0, 0.0, 0.5)
    assert speeds[-1] == pytest.approx(2 * pi, rel=1e-6)
    assert shaft_j == pytest.approx(-(own_j + 0.5e-3 * (2 * pi) ** 2), rel=1e-6)  # the hand gives all of it


def test_a_jam_takes_what_the_shaft_had_through_it_and_leaves_no_slope() -> None:
    state = np.zeros(1, [("speed_rad_s", "f8"), ("slope_rad_s2", "f8"), ("energy_j", "f8", 3)])
    state["speed_rad_s"], state["slope_rad_s2"] = 20.0, 1e3
    held_still(loaded(1e-3), state[0])
    assert state["speed_rad_s"] == 20
    held_still(loaded(1e-3, jammed=1), state[0])
    assert state["speed_rad_s"] == state["slope_rad_s2"] == 0
    assert state["energy_j"][0] == pytest.approx([0, 0, 0.2])


def test_torque_goes_into_friction_load_and_speed() -> None:
    load = loaded(1e-3, dry_n_m=0.05, viscous=1e-4, load_torque_n_m=0.2, load_friction_n_m_s=1e-4)
    w, own_j, shaft_j, given_j = 0.0, 0.0, 0.0, 0.0
    for n in range(20_000):
        torque = 0.5 + 0.6 * np.sin(2 * pi * 3 * n * STEP_S)
        before = w
        w, own_w, shaft_w = turned(load, torque, w, 0.0, 0.0, STEP_S)
        given_j += 0.5 * (before + w) * torque * STEP_S
        own_j, shaft_j = own_j + own_w * STEP_S, shaft_j + shaft_w * STEP_S
    assert given_j > 10
    assert given_j == pytest.approx(own_j + shaft_j + 0.5e-3 * w * w, rel=1e-7)
