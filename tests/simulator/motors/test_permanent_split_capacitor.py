"""The cabin ventilator against the project's own reference tables, computed independently of this model.

Tolerances belong to the tables: 2 % on settled figures, 5 % on times, 10 % on peaks.
"""

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from simulator.motors.motor import Motor
from simulator.motors.permanent_split_capacitor import CABIN_VENTILATOR, MODEL
from simulator.motors.single_phase import LINE
from tests.simulator.motors.cases import batch, rms, rpm, run
from tests.simulator.motors.induction import Row, check_points

CYCLE = 400  # samples at 20 kS/s and 50 Hz
SIXTY = MODEL.parameter_sets["cabin_ventilator_60_hz"]
COLUMNS = "speed_rpm slip_percent I P PF I_main I_aux U_cap T_air P_out eff T_puls"
POINTS: tuple[Row, ...] = (
    ("fan x1", CABIN_VENTILATOR, {},
     (1380, 8.001, 0.5516, 123.9, 0.9762, 0.527, 0.3741, 297.7, 0.4694, 65.75, 0.5309, 0.2964)),
    ("fan x0", CABIN_VENTILATOR, {"load_factor": 0},
     (1494, 0.435, 0.3628, 64.96, 0.7784, 0.5701, 0.42, 334.3, 0.01564, 0, 0, 0.6012)),
    ("fan x1.4", CABIN_VENTILATOR, {"load_factor": 1.4},
     (1317, 12.21, 0.6607, 150.3, 0.9894, 0.5901, 0.3559, 283.3, 0.5938, 79.98, 0.532, 0.3072)),
    ("200 V", CABIN_VENTILATOR, {"mains_v": 200},
     (1328, 11.45, 0.5581, 110.3, 0.988, 0.5015, 0.3121, 248.4, 0.4355, 58.64, 0.5317, 0.2279)),
    ("180 V", CABIN_VENTILATOR, {"mains_v": 180},
     (1269, 15.38, 0.574, 102.6, 0.9928, 0.5077, 0.2701, 214.9, 0.3983, 51.17, 0.4989, 0.205)),
    ("locked", CABIN_VENTILATOR, {"jammed": 1},
     (0, 100, 1.277, 290.1, 0.9878, 1.283, 0.2998, 238.6, 0.2302, 0, 0, 0)),
    ("aged", CABIN_VENTILATOR, {"run_capacitor_uf": 2.8},
     (1361, 9.272, 0.5876, 125.1, 0.9261, 0.5914, 0.2535, 288.2, 0.4567, 63.06, 0.5039, 0.4022)),
    ("aged, locked", CABIN_VENTILATOR, {"run_capacitor_uf": 2.8, "jammed": 1},
     (0, 100, 1.268, 284, 0.9739, 1.283, 0.2082, 236.7, 0.1577, 0, 0, 0)),
    ("shorted", CABIN_VENTILATOR, {"run_capacitor_shorted": 1},
     (1048, 30.1, 2.66, 568.9, 0.9299, 1.12, 1.614, 0.01614, 0.2736, 28.84, 0.05068, 1.22)),
    ("open, kept running", CABIN_VENTILATOR, {"run_capacitor_open": 1},
     (1286, 14.3, 0.782, 149.1, 0.8288, 0.761, 0, None, 0.4083, 53.15, 0.3566, 0.5764)),
    ("open, locked", CABIN_VENTILATOR, {"run_capacitor_open": 1, "jammed": 1},
     (0, 100, 1.307, 278.3, 0.9257, 1.283, 0, None, 0, 0, 0, 0)),
    ("auxiliary open, kept running", CABIN_VENTILATOR, {"auxiliary_open": 1},
     (1286, 14.3, 0.782, 149.1, 0.8288, 0.761, 0, 0, 0.4083, 53.15, 0.3566, 0.5764)),
    ("wrong lead", CABIN_VENTILATOR, {"capacitor_in_main": 1},
     (-1438, None, 0.7399, 157.4, 0.925, 0.5164, 0.6839, None, None, None, None, None)),
    ("120 V 60 Hz, friction not scaled", replace(SIXTY, friction_n_m_s=CABIN_VENTILATOR.friction_n_m_s), {},
     (1653.6, None, 1.0642, 124.8, 0.977, None, None, None, None, None, None, None)),
)  # fmt: skip


def test_every_point_of_the_table_is_where_the_motor_settles() -> None:
    turning = {"open, kept running": 1337.0, "auxiliary open, kept running": 1337.0}
    check_points(MODEL, COLUMNS, POINTS, 3.0, turning)


def test_wound_for_120_v_and_60_hz_its_capacitor_is_the_tables() -> None:
    assert SIXTY.run_capacitor_uf == pytest.approx(12.2, abs=0.05)


def test_the_start_takes_as_long_and_as_much_as_the_table_says() -> None:
    motor = Motor(MODEL)
    motor.set(supply_on=1)
    trace = motor.advance(40_000)
    u, _, line_a, _ = trace.values[:, -10 * CYCLE :]
    final = np.mean(trace.speed_rad_s[-10 * CYCLE :])
    assert final * 30 / np.pi == pytest.approx(1380, rel=0.02)
    assert np.argmax(trace.speed_rad_s > 0.95 * final) / 20_000 == pytest.approx(0.4764, rel=0.05)
    assert np.max(np.abs(trace.values[2])) == pytest.approx(1.885, rel=0.10)
    assert rms(trace.values[2, CYCLE : 2 * CYCLE]) == pytest.approx(1.288, rel=0.02)
    assert rms(line_a) == pytest.approx(0.5519, rel=0.02)
    assert np.mean(u * line_a) == pytest.approx(123.9, rel=0.02)


def test_direct_voltage_on_the_motor_drives_its_resistance_only_and_nothing_turns() -> None:
    motor = Motor(MODEL)
    motor.set(supply_on=1, mains_v=0, direct_v=24)
    trace = motor.advance(20_000)
    assert trace.values[2, -1] == pytest.approx(0.2353, rel=0.02)
    assert trace.values[3, -1] == pytest.approx(0, abs=1e-4)
    assert abs(rpm(trace.speed_rad_s[-2_000:])) < 20
    motor.set(supply_on=0)
    broken = motor.advance(2_000)
    assert np.all(broken.values[2, 401:] == 0)  # a direct current has no zero: its arc ends after 20 ms
    assert np.any(broken.values[2, :390] != 0)


def test_switched_off_the_windings_ring_down_through_the_capacitor() -> None:
    motor = Motor(MODEL)
    motor.set(supply_on=1)
    motor.advance(40_000)
    motor.set(supply_on=0)
    u, _, line_a, auxiliary_a = motor.advance(2_000).values
    off = int(np.argmax(line_a == 0))
    assert off <= CYCLE / 2
    assert np.all(line_a[off:] == 0)
    cycles = [slice(off + k * CYCLE, off + (k + 1) * CYCLE) for k in range(3)]
    assert [rms(u[cycle]) for cycle in cycles] == pytest.approx([132, 72, 43], rel=0.02)
    assert rms(auxiliary_a[cycles[0]]) == pytest.approx(0.22, rel=0.02)


def test_with_both_windings_cut_off_at_once_the_terminals_show_what_the_table_says() -> None:
    """The zero of the line's current is the moment; what the windings carry then ends, the cage's linkages stay."""
    cases, states = batch(MODEL, [(CABIN_VENTILATOR, {})])
    run(MODEL, cases, states, 2.0, steps=1)
    off, _ = batch(MODEL, [(CABIN_VENTILATOR, {"supply_on": 0, "run_capacitor_open": 1})])
    waiting, _ = batch(MODEL, [(CABIN_VENTILATOR, {"supply_on": 0})])
    for _ in range(CYCLE):
        run(MODEL, waiting, states, 1 / 20_000)
        if not states["closed"][0] & LINE:
            break
    states["y"][0, :2], states["closed"] = 0, 0
    u = run(MODEL, off, states, 0.06).values[0, 0]
    assert [rms(u[k * CYCLE : (k + 1) * CYCLE]) for k in range(3)] == pytest.approx([124, 49, 20], rel=0.03)


def test_without_its_capacitor_it_stands_and_hums_and_with_it_restored_it_starts() -> None:
    motor = Motor(MODEL)
    motor.set(supply_on=1, run_capacitor_open=1)
    standing = motor.advance(20_000)
    assert np.max(np.abs(standing.angle_rad - standing.angle_rad[0])) == 0
    assert standing.edge_times_s.size == 0
    assert rms(standing.values[2, -10 * CYCLE :]) == pytest.approx(1.307, rel=0.02)
    assert rms(standing.values[1, -10 * CYCLE :]) == pytest.approx(230, rel=0.02)  # the gap where the capacitor was
    motor.set(run_capacitor_open=0)
    motor.advance(30_000)
    assert rpm(motor.advance(4_000).speed_rad_s) == pytest.approx(1380, rel=0.02)


@pytest.mark.parametrize("way", [1, -1])
def test_without_its_capacitor_a_push_decides_which_way_it_runs(way: float) -> None:
    """Common practice, no published source."""
    motor = Motor(MODEL)
    motor.set(supply_on=1, run_capacitor_open=1, load_factor=0.2)
    motor.advance(4_000)
    motor.set(push_n_m=0.3 * way)
    motor.advance(6_000)
    motor.set(push_n_m=0)
    motor.advance(40_000)
    assert 1380 < way * rpm(motor.advance(4_000).speed_rad_s) < 1500


def test_an_open_auxiliary_leaves_the_capacitor_its_charge_and_an_open_capacitor_shows_the_gap() -> None:
    motor = Motor(MODEL)
    motor.set(supply_on=1)
    motor.advance(30_000)
    motor.set(auxiliary_open=1)
    capacitor_v = motor.advance(2_000).values[1, -CYCLE:]
    assert np.ptp(capacitor_v) == 0
    assert abs(capacitor_v[-1]) == pytest.approx(np.sqrt(2) * 297.7, rel=0.02)  # opens at the peak of its voltage


def test_a_jam_holds_the_shaft_at_the_locked_current_and_a_release_lets_it_start() -> None:
    motor = Motor(MODEL)
    motor.set(supply_on=1)
    motor.advance(20_000)
    motor.set(jammed=1)
    held = motor.advance(10_000)
    assert not np.any(held.speed_rad_s)
    assert rms(held.values[2, -10 * CYCLE :]) == pytest.approx(1.277, rel=0.02)
    motor.set(jammed=0)
    motor.advance(30_000)
    assert rpm(motor.advance(4_000).speed_rad_s) == pytest.approx(1380, rel=0.02)


@pytest.mark.parametrize("angle_deg", [0, 90, 200])
def test_the_switch_closes_at_the_angle_it_is_told(angle_deg: float) -> None:
    motor = Motor(MODEL)
    motor.advance(123)
    motor.set(supply_on=1, switching_angle_deg=angle_deg)
    angles = np.radians(angle_deg) + 2 * np.pi * 50 * np.arange(500) / 20_000
    assert motor.advance(500).values[0] == pytest.approx(230 * np.sqrt(2) * np.sin(angles), abs=1e-6)


def test_a_change_of_load_moves_the_speed_from_one_point_of_the_table_to_the_other() -> None:
    motor = Motor(MODEL)
    motor.set(supply_on=1, load_factor=1.4)
    motor.advance(30_000)
    assert rpm(motor.advance(4_000).speed_rad_s) == pytest.approx(1317, rel=0.02)
    motor.set(load_factor=1)
    motor.advance(20_000)
    assert rpm(motor.advance(4_000).speed_rad_s) == pytest.approx(1380, rel=0.02)


def test_a_changed_wiring_waits_until_the_motor_carries_no_current() -> None:
    motor = Motor(MODEL)
    motor.set(supply_on=1)
    motor.advance(30_000)
    motor.set(auxiliary_reversed=1)
    assert rpm(motor.advance(20_000).speed_rad_s[-4_000:]) == pytest.approx(1380, rel=0.02)
    motor.set(supply_on=0)
    motor.advance(20_000)
    motor.set(supply_on=1)
    motor.advance(60_000)
    trace = motor.advance(4_000)
    assert rpm(trace.speed_rad_s) == pytest.approx(-1380, rel=0.02)
    assert rms(trace.values[2]) == pytest.approx(0.5516, rel=0.02)  # swapped leads alone: the same currents


def test_the_shaft_pulse_rises_once_a_turn_and_its_edges_are_finer_than_a_microsecond() -> None:
    """The instants are read again from a run with steps a tenth as long, by straight lines between them."""
    motor, fine = Motor(MODEL), Motor(MODEL, rate_hz=200_000.0)
    edges = []
    for each, samples in ((motor, 20_000), (fine, 200_000)):
        each.set(supply_on=1)
        edges.append(each.advance(samples))
    coarse, exact = edges
    half_turns = np.pi * np.arange(1, 1 + int(exact.angle_rad[-1] // np.pi))
    crossings_s = np.interp(half_turns, exact.angle_rad, np.arange(200_000) / 200_000.0)
    assert coarse.edge_times_s.size == half_turns.size > 30
    assert coarse.edge_times_s == pytest.approx(crossings_s, abs=1e-6)
    assert all(before != after for before, after in pairwise(coarse.edge_states))
    assert coarse.edge_states[0] == 0
    assert motor.state == coarse.edge_states[-1]


def test_a_brake_on_the_hub_brings_the_fan_to_a_rest_that_stays() -> None:
    motor = Motor(MODEL)
    motor.set(supply_on=1)
    motor.advance(20_000)
    motor.set(supply_on=0, load_torque_n_m=0.1)
    trace = motor.advance(200_000)
    assert np.all(np.diff(trace.speed_rad_s[CYCLE:]) <= 0)
    assert trace.speed_rad_s[-1] == 0
    assert not np.any(motor.advance(1_000).values[2:])
