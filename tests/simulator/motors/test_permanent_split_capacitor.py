"""The cabin ventilator against the project's own reference tables, computed independently of this model.

Tolerances belong to the tables: 2 % on settled figures, 5 % on times, 10 % on peaks.
"""

from collections.abc import Mapping
from dataclasses import replace
from itertools import pairwise
from typing import TypeAlias

import numpy as np
import pytest

from simulator.motors.permanent_split_capacitor import VENTILATOR, VENTILATOR_60_HZ, Parameters, PermanentSplitCapacitor
from tests.simulator.motors.cases import rms, rpm, run_ventilators, ventilators

CYCLE = 400  # samples at 20 kS/s and 50 Hz


def with_capacitor_in_main(motor: Parameters) -> Parameters:
    """The capacitor in the wrong lead: the windings trade names, and the cage is referred to the other one."""
    a2 = motor.turns_ratio**2
    return replace(
        motor,
        turns_ratio=1 / motor.turns_ratio,
        auxiliary_angle_rad=-motor.auxiliary_angle_rad,
        main_ohm=motor.auxiliary_ohm,
        auxiliary_ohm=motor.main_ohm,
        rotor_ohm=motor.rotor_ohm * a2,
        main_leakage_h=motor.auxiliary_leakage_h,
        auxiliary_leakage_h=motor.main_leakage_h,
        rotor_leakage_h=motor.rotor_leakage_h * a2,
        magnetizing_h=motor.magnetizing_h * a2,
    )


AGED = replace(VENTILATOR, capacitor_f=2.8e-6)
SHORTED = replace(VENTILATOR, capacitor_f=None, capacitor_ohm=0.01)
WRONG_LEAD = with_capacitor_in_main(VENTILATOR)

COLUMNS = "speed_rpm I P PF I_main I_aux U_cap T_air P_out T_puls"
Row: TypeAlias = tuple[str, Parameters, Mapping[str, float], tuple[float | None, ...]]  # None: not in the table
POINTS: tuple[Row, ...] = (
    ("fan x1", VENTILATOR, {}, (1380, 0.5516, 123.9, 0.9762, 0.527, 0.3741, 297.7, 0.4694, 65.75, 0.2964)),
    ("fan x0", VENTILATOR, {"load_factor": 0},
     (1494, 0.3628, 64.96, 0.7784, 0.5701, 0.42, 334.3, 0.01564, 0, 0.6012)),
    ("fan x1.4", VENTILATOR, {"load_factor": 1.4},
     (1317, 0.6607, 150.3, 0.9894, 0.5901, 0.3559, 283.3, 0.5938, 79.98, 0.3072)),
    ("200 V", VENTILATOR, {"mains_v": 200},
     (1328, 0.5581, 110.3, 0.988, 0.5015, 0.3121, 248.4, 0.4355, 58.64, 0.2279)),
    ("180 V", VENTILATOR, {"mains_v": 180},
     (1269, 0.574, 102.6, 0.9928, 0.5077, 0.2701, 214.9, 0.3983, 51.17, 0.205)),
    ("locked", VENTILATOR, {"jammed": 1}, (0, 1.277, 290.1, 0.9878, 1.283, 0.2998, 238.6, 0.2302, 0, 0)),
    ("aged", AGED, {}, (1361, 0.5876, 125.1, 0.9261, 0.5914, 0.2535, 288.2, 0.4567, 63.06, 0.4022)),
    ("aged, locked", AGED, {"jammed": 1}, (0, 1.268, 284, 0.9739, 1.283, 0.2082, 236.7, 0.1577, 0, 0)),
    ("shorted", SHORTED, {}, (1048, 2.66, 568.9, 0.9299, 1.12, 1.614, 0.01614, 0.2736, 28.84, 1.22)),
    ("auxiliary open", VENTILATOR, {"capacitor_connected": 0},
     (1286, 0.782, 149.1, 0.8288, 0.761, 0, None, 0.4083, 53.15, 0.5764)),
    ("auxiliary open, locked", VENTILATOR, {"capacitor_connected": 0, "jammed": 1},
     (0, 1.307, 278.3, 0.9257, 1.283, 0, None, 0, 0, 0)),
    ("wrong lead", WRONG_LEAD, {}, (-1438, 0.7399, 157.4, 0.925, 0.6839, 0.5164, None, None, None, None)),
    ("120 V 60 Hz", replace(VENTILATOR_60_HZ, friction_n_m_s=VENTILATOR.friction_n_m_s), {},
     (1653.6, 1.0642, 124.8, 0.977, None, None, None, None, None, None)),
)  # fmt: skip
# Of the wrong lead the table's main current is the current of what here is the auxiliary, and the other way round.


def test_every_point_of_the_table_is_where_the_motor_settles() -> None:
    cases, states = ventilators([(motor, controls) for _, motor, controls, _ in POINTS])
    states["y"][[name == "auxiliary open" for name, *_ in POINTS], 5] = 140  # kept running
    block = run_ventilators(cases, states, 3.0)
    last = slice(-12_000, None)  # 30 cycles of 50 Hz, 36 of 60 Hz
    for k, (name, _, _, expected) in enumerate(POINTS):
        u, capacitor_v, line_a, auxiliary_a = block.values[k, :, last]
        speed, torque = block.speed_rad_s[k, last], block.torque_n_m[k, last]
        power = float(np.mean(u * line_a))
        found = (
            rpm(speed),
            rms(line_a),
            power,
            power / (rms(u) * rms(line_a)),
            rms(line_a - auxiliary_a - u / cases["core_ohm"][k]),
            rms(auxiliary_a),
            rms(capacitor_v),
            np.mean(torque),
            np.mean(cases["fan_n_m_s2"][k] * np.abs(speed) ** 3),
            np.ptp(torque) / 2,
        )
        for column, figure, value in zip(COLUMNS.split(), expected, found, strict=True):
            if figure is not None:
                assert value == pytest.approx(figure, rel=0.02, abs=1e-6), f"{name}: {column}"


def test_the_start_takes_as_long_and_as_much_as_the_table_says() -> None:
    motor = PermanentSplitCapacitor()
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
    cases, states = ventilators([(VENTILATOR, {"mains_v": 24 / np.sqrt(2)})])
    cases["mains_rad_s"], states["phase_rad"], cases["core_ohm"] = 0, np.pi / 2, np.inf
    block = run_ventilators(cases, states, 1.0)
    assert block.values[0, 2, -1] == pytest.approx(0.2353, rel=0.02)
    assert block.values[0, 3, -1] == pytest.approx(0, abs=1e-4)
    assert abs(rpm(block.speed_rad_s[0, -2_000:])) < 20


def test_switched_off_the_windings_ring_down_through_the_capacitor() -> None:
    motor = PermanentSplitCapacitor()
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


def test_without_its_capacitor_it_stands_and_hums_and_with_it_restored_it_starts() -> None:
    motor = PermanentSplitCapacitor()
    motor.set(supply_on=1, capacitor_connected=0)
    standing = motor.advance(20_000)
    assert np.max(np.abs(standing.angle_rad - standing.angle_rad[0])) == 0
    assert standing.edge_times_s.size == 0
    assert rms(standing.values[2, -10 * CYCLE :]) == pytest.approx(1.307, rel=0.02)
    assert rms(standing.values[1, -10 * CYCLE :]) == pytest.approx(230, rel=0.02)  # the gap where the capacitor was
    motor.set(capacitor_connected=1)
    motor.advance(30_000)
    assert rpm(motor.advance(4_000).speed_rad_s) == pytest.approx(1380, rel=0.02)


def test_a_jam_holds_the_shaft_at_the_locked_current_and_a_release_lets_it_start() -> None:
    motor = PermanentSplitCapacitor()
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
    motor = PermanentSplitCapacitor()
    motor.advance(123)
    motor.set(supply_on=1, switching_angle_deg=angle_deg)
    angles = np.radians(angle_deg) + 2 * np.pi * 50 * np.arange(500) / 20_000
    assert motor.advance(500).values[0] == pytest.approx(230 * np.sqrt(2) * np.sin(angles), abs=1e-6)


def test_a_change_of_load_moves_the_speed_from_one_point_of_the_table_to_the_other() -> None:
    motor = PermanentSplitCapacitor()
    motor.set(supply_on=1, load_factor=1.4)
    motor.advance(30_000)
    assert rpm(motor.advance(4_000).speed_rad_s) == pytest.approx(1317, rel=0.02)
    motor.set(load_factor=1)
    motor.advance(20_000)
    assert rpm(motor.advance(4_000).speed_rad_s) == pytest.approx(1380, rel=0.02)


def test_the_shaft_pulse_rises_once_a_turn_and_its_edges_are_finer_than_a_microsecond() -> None:
    """The instants are read again from a run with steps a tenth as long, by straight lines between them."""
    motor, fine = PermanentSplitCapacitor(), PermanentSplitCapacitor(rate_hz=200_000.0)
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
    motor = PermanentSplitCapacitor()
    motor.set(supply_on=1)
    motor.advance(20_000)
    motor.set(supply_on=0, load_torque_n_m=0.1)
    trace = motor.advance(200_000)
    assert np.all(np.diff(trace.speed_rad_s[CYCLE:]) <= 0)
    assert trace.speed_rad_s[-1] == 0
    assert not np.any(motor.advance(1_000).values)
