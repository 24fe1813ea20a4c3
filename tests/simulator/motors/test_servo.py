"""The gimbal servo against the project's own reference tables, computed independently of this model.

2 % on settled figures, 10 % on peaks. The row of the step ends in dry friction within one count of the encoder, so
there only its rest is asked for.
"""

from dataclasses import replace

import numpy as np
import pytest

from simulator.motors.motor import Motor
from simulator.motors.servo import GIMBAL, MODEL
from tests.simulator.motors.cases import batch, rpm, run

ERROR, REFERENCE = 2, 3
# name, controls, moment of a change, what changes: following error, speed, current, voltage, peak current
TABLE: tuple[tuple[str, dict[str, float], float, dict[str, float], tuple[float, float, float, float, float]], ...] = (
    ("100 rad/s", {"reference_rad_s": 100}, 0.5, {}, (2.5, 100, 0.1556, 5.069, 3.623)),
    ("loaded", {"reference_rad_s": 100}, 0.5, {"load_torque_n_m": 0.1}, (2.5, 100, 2.378, 7.516, 3.623)),
    ("fast", {"reference_rad_s": 450}, 0.5, {"load_torque_n_m": 0.1}, (11.25, 450, 2.455, 23.35, 7.846)),
    ("jam", {"reference_rad_s": 100}, 0.8, {"jammed": 1}, (57.5, 0, 8, 9.2, 8)),
    ("wrong sense", {"reference_rad_s": 100, "encoder_sign": -1}, 0.5, {}, (806.4, 518.4, 0.2485, 24, 7.846)),
)


@pytest.mark.parametrize(("name", "controls", "at_s", "change", "expected"), TABLE)
def test_every_row_of_the_table_is_where_the_servo_settles(
    name: str,
    controls: dict[str, float],
    at_s: float,
    change: dict[str, float],
    expected: tuple[float, float, float, float, float],
) -> None:
    motor = Motor(MODEL)
    motor.set(supply_on=1, **controls)
    first = motor.advance(round(at_s * 20_000))
    motor.set(**change)
    second = motor.advance(round((1.5 - at_s) * 20_000))
    last = slice(-6_000, None)
    found = (
        np.mean(second.truths[ERROR, last]),
        np.mean(second.speed_rad_s[last]),
        np.mean(second.values[1, last]),
        np.mean(second.values[0, last]),
        max(np.max(np.abs(first.values[1])), np.max(np.abs(second.values[1]))),
    )
    for column, figure, value in zip(["error", "w", "I", "U", "peak"], expected, found, strict=True):
        assert value == pytest.approx(figure, rel=0.10 if column == "peak" else 0.02, abs=1e-3), f"{name}: {column}"


def test_after_a_step_of_half_a_turn_it_rests_within_a_count_of_the_encoder() -> None:
    motor = Motor(MODEL)
    motor.set(supply_on=1)
    motor.advance(1_000)
    motor.set(reference_step_rad=3.14)
    trace = motor.advance(29_000)
    assert np.max(np.abs(trace.values[1])) == pytest.approx(7.509, rel=0.10)
    last = slice(-6_000, None)
    assert np.mean(trace.truths[ERROR, last]) == pytest.approx(0.002751, abs=2 * np.pi / 2000)
    assert abs(rpm(trace.speed_rad_s[last])) < 20
    assert np.max(trace.angle_rad) > 3.14


def test_a_load_shows_in_the_current_alone_and_the_error_is_speed_over_gain() -> None:
    rows = [
        (GIMBAL, {"reference_rad_s": speed, "load_torque_n_m": load}) for speed in (50, 200) for load in (0.0, 0.08)
    ]
    cases, states = batch(MODEL, rows)
    block = run(MODEL, cases, states, 1.5)
    errors = np.mean(block.truths[:, ERROR, -4_000:], axis=-1)
    currents = np.mean(block.values[:, 1, -4_000:], axis=-1)
    assert errors == pytest.approx([50 / 40, 50 / 40, 200 / 40, 200 / 40], rel=0.01)
    assert currents[1] - currents[0] == pytest.approx(0.08 / 0.045, rel=0.02)
    assert currents[3] - currents[2] == pytest.approx(0.08 / 0.045, rel=0.02)


def test_a_published_motor_without_losses_runs_away_at_its_printed_no_load_speed() -> None:
    """1 N m and 5 A at a stall at 28 V: 1336.90 r/min; S. P. Burman, Special Electrical Machines, Example 4.2, p. 216.

    As a third-party companion prints it. The speed is that of a bridge that stays at full voltage: the sense of the
    encoder is wrong.
    """
    motor = replace(GIMBAL, ohm=28 / 5, emf_v_s=1 / 5, brush_v=0, dry_friction_n_m=0, friction_n_m_s=0, source_v=28)
    rows = [(motor, {"encoder_sign": -1, "jammed": held}) for held in (0, 1)]
    cases, states = batch(MODEL, rows, reference_rad_s=100)
    block = run(MODEL, cases, states, 2.0)
    assert rpm(block.speed_rad_s[0, -2_000:]) == pytest.approx(1336.90, rel=1e-4)
    cases["limit_a"] = 100.0
    stalled = run(MODEL, cases, states, 1.0, first=40_000)
    assert stalled.values[1, 1, -1] == pytest.approx(5, rel=1e-3)
    assert stalled.torque_n_m[1, -1] == pytest.approx(1, rel=1e-3)


def test_jammed_the_current_is_at_its_limit_and_the_error_grows_with_the_reference() -> None:
    motor = Motor(MODEL)
    motor.set(supply_on=1, reference_rad_s=100, current_limit_a=3)
    motor.advance(10_000)
    motor.set(jammed=1)
    motor.advance(4_000)
    trace = motor.advance(10_000)
    assert trace.values[1] == pytest.approx(3, rel=1e-3)
    assert trace.truths[ERROR, -1] - trace.truths[ERROR, 0] == pytest.approx(50, rel=0.01)
    motor.set(jammed=0, current_limit_a=8)
    motor.advance(40_000)
    assert motor.advance(4_000).truths[ERROR] == pytest.approx(2.5, abs=0.1)


def test_switched_off_its_current_ends_in_the_diodes_and_it_coasts_showing_its_emf() -> None:
    motor = Motor(MODEL)
    motor.set(supply_on=1, reference_rad_s=200)
    motor.advance(10_000)
    motor.set(supply_on=0, reference_rad_s=0)
    trace = motor.advance(20_000)
    assert not np.any(trace.values[1, 100:])
    assert trace.values[0, 100:200] == pytest.approx(0.045 * trace.speed_rad_s[100:200], rel=1e-6)
    motor.advance(40_000)  # it has come to rest
    motor.set(supply_on=1)
    assert np.max(np.abs(motor.advance(4_000).truths[ERROR])) < 0.01  # it starts from where it is


def test_a_turn_has_one_index_pulse() -> None:
    motor = Motor(MODEL)
    assert motor.state == 1
    motor.set(supply_on=1, reference_rad_s=20 * np.pi)
    motor.advance(20_000)
    trace = motor.advance(20_000)
    assert np.diff(trace.edge_times_s) == pytest.approx(0.05, rel=0.01)
    assert list(trace.edge_states[:4]) in ([0, 1, 0, 1], [1, 0, 1, 0])


def test_energy_closes_in_ramps_loads_jams_runaway_and_coasting() -> None:
    motor = Motor(MODEL)
    for controls in (
        {"supply_on": 1, "reference_rad_s": 300},
        {"load_torque_n_m": 0.1},
        {"reference_rad_s": -300, "load_torque_n_m": 0},
        {"jammed": 1},
        {"jammed": 0},
        {"encoder_sign": -1},
        {"supply_on": 0},
        {"turned_by_hand": 1, "hand_rpm": 1000},
    ):
        motor.set(**controls)
        motor.advance(10_000)
        energy = motor.energy
        assert energy.input == pytest.approx(energy.lost + energy.shaft + energy.stored, rel=0.005), controls


def test_half_the_step_moves_no_settled_figure_by_more_than_a_thousandth() -> None:
    figures = []
    for steps in (5, 10):
        cases, states = batch(MODEL, [(GIMBAL, {"reference_rad_s": 450, "load_torque_n_m": 0.1})])
        block = run(MODEL, cases, states, 1.0, steps=steps)
        last = slice(-4_000, None)
        figures.append(np.mean([*block.values[0, :2, last], block.truths[0, ERROR, last]], axis=-1))
    assert figures[0] == pytest.approx(figures[1], rel=1e-3)


def test_the_same_controls_give_the_same_bits_however_the_time_is_cut() -> None:
    whole, cut = Motor(MODEL), Motor(MODEL)
    for motor in (whole, cut):
        motor.set(supply_on=1, reference_rad_s=120)
    once = whole.advance(7_000)
    pieces = [cut.advance(samples) for samples in (1, 2, 32, 965, 6_000)]
    for name in ("values", "truths", "edge_times_s"):
        assert getattr(once, name).tobytes() == np.concatenate([getattr(p, name) for p in pieces], axis=-1).tobytes()
