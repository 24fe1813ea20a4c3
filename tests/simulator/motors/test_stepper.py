"""The hatch actuator against the project's own reference tables, computed independently of this model.

2 % on settled figures; lost steps: followed below one half. The peak of the row of 100 steps/s is its whole run's, the
others are of the second half.
"""

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.integrate import solve_ivp

from simulator.motors.motor import Motor
from simulator.motors.stepper import HATCH_ACTUATOR, MODEL
from tests.simulator.motors.cases import batch, rms, run

COMMANDED, MADE, MISSED = 2, 3, 4
# steps/s, load: followed, current of coil 1, its peak, swing of the speed in rad/s
TABLE = (
    (100, 0.0, 1.007, 0.3588, 0.4431, 25.76),
    (300, 0.05, 1.002, 0.2363, 0.407, 17.88),
    (500, 0.1, 1.001, 0.1559, 0.1991, 2.856),
    (600, 0.1, None, 0.227, 0.3732, 27.1),
    (900, 0.0, None, 0.2345, 0.4107, 44.6),
)


def test_every_row_of_the_table_follows_or_loses_steps_with_the_current_that_is_due() -> None:
    rows = [(HATCH_ACTUATOR, {"step_rate_hz": float(rate), "load_torque_n_m": load}) for rate, load, *_ in TABLE]
    cases, states = batch(MODEL, rows)
    block = run(MODEL, cases, states, 3.0)
    half = slice(30_000, None)
    for k, (rate, load, followed, coil_a, peak_a, swing) in enumerate(TABLE):
        row = f"{rate} steps/s, {load} N.m"
        truths = block.truths[k, :, half]
        made = np.ptp(truths[MADE]) if followed else truths[MADE, -1] - truths[MADE, 0]
        share = made / (truths[COMMANDED, -1] - truths[COMMANDED, 0])
        if followed:
            assert share == pytest.approx(followed, rel=0.02), row
            assert np.ptp(truths[MISSED]) == 0, row
        else:
            assert share < 0.5, row
            assert np.ptp(truths[MISSED]) > 100, row
        peak = np.max(np.abs(block.values[k, 1, half]))
        assert rms(block.values[k, 1, half]) == pytest.approx(coil_a, rel=0.02), row
        assert peak == pytest.approx(peak_a, rel=0.10), row
        assert np.ptp(block.speed_rad_s[k, half]) == pytest.approx(swing, rel=0.02), row


def test_ramped_up_to_800_steps_a_second_it_follows() -> None:
    cases, states = batch(MODEL, [(HATCH_ACTUATOR, {"step_rate_hz": 800, "ramp_hz_s": 1000})])
    block = run(MODEL, cases, states, 8.0)
    truths, half = block.truths[0, :, 80_000:], slice(80_000, None)
    assert np.ptp(truths[MADE]) / np.ptp(truths[COMMANDED]) == pytest.approx(1, rel=0.02)
    assert truths[COMMANDED, -1] == pytest.approx(800 * 8 - 800**2 / 2000, abs=1)
    assert rms(block.values[0, 1, half]) == pytest.approx(0.0505, rel=0.02)
    assert np.max(np.abs(block.values[0, 1, half])) == pytest.approx(0.1338, rel=0.10)
    assert np.ptp(block.speed_rad_s[0, half]) == pytest.approx(11.6, rel=0.02)
    assert not np.any(truths[MISSED])


@pytest.mark.parametrize(("load", "rate_hz"), [(0.0, 877.7), (0.1, 531.8)])
def test_it_pulls_out_at_the_rate_of_the_table(load: float, rate_hz: float) -> None:
    """Ramp of 1500 steps/s2; followed within 2 % in the last half second of 2 s."""
    rates = rate_hz * np.array([0.98, 0.99, 1.01, 1.02])
    rows = [
        (HATCH_ACTUATOR, {"step_rate_hz": float(rate), "ramp_hz_s": 1500, "load_torque_n_m": load}) for rate in rates
    ]
    cases, states = batch(MODEL, rows)
    truths = run(MODEL, cases, states, 2.0).truths[:, :, -10_000:]
    moved = truths[:, :, -1] - truths[:, :, 0]
    followed = np.abs(moved[:, MADE] / moved[:, COMMANDED] - 1) < 0.02
    assert list(followed) == [True, True, False, False]


def test_another_integrator_finds_the_same_shaft_and_currents_step_by_step() -> None:
    """The equations written anew, SciPy's LSODA, one stretch for each commanded step: 30 steps at 300 a second."""
    m, load = HATCH_ACTUATOR, 0.05
    signs = ((1, 1), (-1, 1), (-1, -1), (1, -1))

    def slope(_: float, y: NDArray[np.float64], u_1: float, u_2: float) -> list[float]:
        i_1, i_2, w, a = y
        sine, cosine = np.sin(m.teeth * a), np.cos(m.teeth * a)
        torque = m.torque_n_m_a * (i_2 * cosine - i_1 * sine) - m.detent_n_m * np.sin(4 * m.teeth * a)
        against = (m.dry_friction_n_m + load) * np.tanh(w / 0.3) + m.friction_n_m_s * w
        return [
            (u_1 - m.ohm * i_1 + m.torque_n_m_a * w * sine) / m.henry,
            (u_2 - m.ohm * i_2 - m.torque_n_m_a * w * cosine) / m.henry,
            (torque - against) / m.inertia_kg_m2,
            w,
        ]

    found, y = [], np.array([0.0, 0.0, 0.0, np.pi / (4 * m.teeth)])
    for k in range(30):
        u_1, u_2 = (12.0 * sign for sign in signs[k % 4])
        stretch = solve_ivp(slope, (0, 1 / 300), y, "LSODA", args=(u_1, u_2), rtol=1e-8, atol=1e-10)
        y = stretch.y[:, -1]
        found.append(y)
    cases, states = batch(MODEL, [(m, {"step_rate_hz": 300, "load_torque_n_m": load})])
    block = run(MODEL, cases, states, 0.101, rate_hz=30_000.0)  # 100 samples a step
    ends = np.array(found)
    at = 100 * np.arange(1, 31)
    assert block.angle_rad[0, at] == pytest.approx(ends[:, 3], abs=1e-4)
    assert block.values[0, 1, at] == pytest.approx(ends[:, 0], abs=1e-3)
    assert block.values[0, 3, at] == pytest.approx(ends[:, 1], abs=1e-3)
    assert block.speed_rad_s[0, at] == pytest.approx(ends[:, 2], abs=0.1)


def test_at_rest_it_holds_the_torque_of_the_table_and_no_more() -> None:
    """0.3111 N m = sqrt(2) x 0.55 x 0.4; the table leaves out the detent, which moves the top, and the friction."""
    bare = MODEL.constants(HATCH_ACTUATOR, {**Motor(MODEL).controls, "supply_on": 1.0})
    cases, states = np.repeat(bare, 40), np.repeat(MODEL.at_rest(HATCH_ACTUATOR, 0), 40)
    cases["detent_n_m"], cases["load"]["held"] = 0.0, 1
    states["angle_rad"] += np.linspace(-np.pi / 50, np.pi / 50, 40)  # one period of the torque
    block = run(MODEL, cases, states, 0.02)
    assert np.max(block.torque_n_m[:, -1]) == pytest.approx(0.3111, rel=0.01)
    assert np.min(block.torque_n_m[:, -1]) == pytest.approx(-0.3111, rel=0.01)


def test_lost_steps_show_as_a_higher_current_and_the_truth_counts_them() -> None:
    """Published nowhere we know of; common practice: a rotor that stands has no EMF, so the coil takes more."""
    motor = Motor(MODEL)
    motor.set(supply_on=1, step_rate_hz=400)
    motor.advance(10_000)
    before = motor.advance(20_000)
    motor.set(jammed=1)
    motor.advance(10_000)
    jammed = motor.advance(20_000)
    assert rms(jammed.values[1]) > 1.2 * rms(before.values[1])
    assert jammed.truths[MISSED, -1] - jammed.truths[MISSED, 0] == pytest.approx(400, abs=4)


def test_a_turn_is_200_steps_and_has_one_index_pulse_in_whose_middle_it_rests() -> None:
    motor = Motor(MODEL)
    assert motor.state == 1
    motor.set(supply_on=1, step_rate_hz=200)
    trace = motor.advance(100_000)
    assert list(trace.edge_states) == [0, 1] * 5
    assert np.diff(trace.edge_times_s[::2]) == pytest.approx(1.0, rel=0.02)
    assert trace.angle_rad[-1] == pytest.approx(5 * 2 * np.pi, rel=0.01)


def test_direction_and_one_coil_with_exchanged_ends_turn_it_the_other_way() -> None:
    rows: list[dict[str, float]] = [
        {"direction": 1.0},
        {"direction": -1.0},
        {"coil_1_reversed": 1.0},
        {"coil_1_reversed": 1.0, "direction": -1.0},
    ]
    cases, states = batch(MODEL, [(HATCH_ACTUATOR, row) for row in rows], step_rate_hz=200)
    angle = run(MODEL, cases, states, 1.0).angle_rad
    assert (angle[:, -1] - angle[:, 0]) / (2 * np.pi) == pytest.approx([1, -1, -1, 1], abs=0.02)


def test_steps_are_counted_from_where_the_driver_came_on_and_the_coil_was_reversed() -> None:
    motor = Motor(MODEL)
    motor.set(supply_on=1, step_rate_hz=200)
    motor.advance(10_050)
    motor.set(step_rate_hz=0)
    truths = motor.advance(4_000).truths
    assert truths[MADE, -1] == pytest.approx(truths[COMMANDED, -1], abs=0.1)
    motor.set(coil_1_reversed=1)
    truths = motor.advance(4_000).truths  # to the nearest place that the coil as it hangs now allows: a step away
    assert truths[MADE, -1] == pytest.approx(truths[COMMANDED, -1], abs=0.1)
    assert not np.any(truths[MISSED])
    motor.set(step_rate_hz=200)
    truths = motor.advance(10_000).truths
    assert truths[MADE, -1] - truths[MADE, 0] == pytest.approx(100, abs=1)
    assert not np.any(truths[MISSED])
    motor.set(jammed=1)
    assert motor.advance(10_000).truths[MISSED, -1] == pytest.approx(100, abs=4)
    motor.set(jammed=0, supply_on=0, step_rate_hz=0)
    motor.advance(2_000)
    motor.set(supply_on=1)
    truths = motor.advance(4_000).truths
    assert not np.any(truths[MISSED])
    assert truths[MADE, -1] == pytest.approx(truths[COMMANDED, -1], abs=0.1)


def test_let_go_its_coils_lose_their_current_into_the_diodes_and_the_shaft_turns_freely() -> None:
    motor = Motor(MODEL)
    motor.set(supply_on=1)
    held = motor.advance(4_000)
    assert held.values[1, -1] == pytest.approx(12 / 30, rel=1e-3)
    motor.set(enable=0)
    loose = motor.advance(4_000)
    assert loose.values[1, 40] < 0.2
    assert not np.any(loose.values[[1, 3], 400:])
    motor.set(turned_by_hand=1, hand_rpm=60)
    motor.advance(4_000)
    turned = motor.advance(4_000)
    assert np.max(turned.values[0]) == pytest.approx(0.55 * 2 * np.pi, rel=0.01)  # K w
    motor.set(hand_rpm=1000)
    motor.advance(4_000)
    assert np.max(np.abs(motor.advance(4_000).values[1])) > 0.1  # faster than the supply: its diodes conduct


def test_without_holding_the_coils_are_on_only_while_steps_come() -> None:
    motor = Motor(MODEL)
    motor.set(supply_on=1, holding=0)
    assert not np.any(motor.advance(2_000).values[1])
    motor.set(step_rate_hz=100)
    assert rms(motor.advance(4_000).values[1]) > 0.3
    motor.set(step_rate_hz=0)
    assert not np.any(motor.advance(4_000).values[1, 1_000:])


def test_energy_closes_in_steps_stalls_jams_and_when_let_go() -> None:
    motor = Motor(MODEL)
    stored = motor.energy.stored
    for controls in (
        {"supply_on": 1, "step_rate_hz": 100},
        {"step_rate_hz": 900},
        {"jammed": 1},
        {"jammed": 0, "step_rate_hz": 400, "load_torque_n_m": 0.05, "ramp_hz_s": 2000, "direction": -1},
        {"enable": 0},
        {"turned_by_hand": 1, "hand_rpm": 1000},
    ):
        motor.set(**controls)
        motor.advance(10_000)
        energy = motor.energy
        assert energy.input + stored == pytest.approx(energy.lost + energy.shaft + energy.stored, rel=0.005), controls


def test_half_the_step_moves_no_figure_of_a_row_that_follows_by_more_than_five_thousandths() -> None:
    figures = []
    for steps in (5, 10):
        rows = [
            (HATCH_ACTUATOR, {"step_rate_hz": r, "load_torque_n_m": load}) for r, load in ((100.0, 0.0), (500.0, 0.1))
        ]
        cases, states = batch(MODEL, rows)
        block = run(MODEL, cases, states, 2.0, steps=steps)
        figures.append(np.array([rms(block.values[:, 1, 20_000:]), np.ptp(block.speed_rad_s[:, 20_000:], axis=-1)]))
    assert figures[0] == pytest.approx(figures[1], rel=5e-3)


def test_the_same_controls_give_the_same_bits_however_the_time_is_cut() -> None:
    whole, cut = Motor(MODEL), Motor(MODEL)
    for motor in (whole, cut):
        motor.set(supply_on=1, step_rate_hz=777, ramp_hz_s=900)
    once = whole.advance(7_000)
    pieces = [cut.advance(samples) for samples in (1, 2, 32, 965, 6_000)]
    for name in ("values", "truths", "edge_times_s"):
        assert getattr(once, name).tobytes() == np.concatenate([getattr(p, name) for p in pieces], axis=-1).tobytes()
