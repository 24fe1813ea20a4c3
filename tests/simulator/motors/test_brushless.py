"""The tender thruster against the project's own reference tables, computed independently of this model.

Tolerances belong to the tables: 2 % on settled figures, 5 % on times, 10 % on peaks. The tables know neither
a current limit nor hysteresis.
"""

from collections.abc import Mapping
from dataclasses import replace
from typing import TypeAlias

import numpy as np
import pytest

from simulator.motors.brushless import THRUSTER, Brushless, Parameters
from tests.simulator.motors.cases import rms, rpm, run_thrusters, thrusters

IDEAL = replace(THRUSTER, hall_hysteresis_deg=0.0)
COLUMNS = "speed_rpm f_elec I_phase I_phase_v I_dc P_in T_air T_pp P_out f_ripple i_peak t95"
Row: TypeAlias = tuple[str, Parameters, Mapping[str, float], tuple[float | None, ...]]
TABLE: tuple[Row, ...] = (
    ("load 1.0", IDEAL, {"load_torque_n_m": 1.0},
     (2690, 313.8, 7.588, 7.588, 8.601, 309.6, 1.058, 0.5828, 281.7, 1883, 187.8, 0.02293)),
    ("load 0.0", IDEAL, {}, (2980, 347.6, 0.4435, 0.4435, 0.5328, 19.18, 0.0612, 0.0399, 0, 2086, 184.2, 0.02766)),
    ("load 1.7", IDEAL, {"load_torque_n_m": 1.7},
     (2517, 293.7, 12.54, 12.54, 13.71, 493.6, 1.756, 0.8642, 448.1, 1762, 190.4, 0.02042)),
    ("duty 0.5, load 1", IDEAL, {"load_torque_n_m": 1.0, "duty": 0.5},
     (1306, 152.3, 7.501, 7.506, 4.263, 153.5, 1.044, 0.6161, 136.7, 914, 97.93, 0.0141)),
    # with the diodes of an idle phase these two are known by fewer figures
    ("30 early", replace(IDEAL, hall_late_deg=-30.0), {"load_torque_n_m": 1.0},
     (3049, None, 9.17, None, None, None, None, 0.776, None, None, 216, None)),
    ("15 late", replace(IDEAL, hall_late_deg=15.0), {"load_torque_n_m": 1.0},
     (2722, None, 8.16, None, None, None, None, None, None, None, 194.6, 0.02769)),
)  # fmt: skip


def test_every_running_row_of_the_table_is_where_the_motor_settles() -> None:
    cases, states = thrusters([(motor, controls) for _, motor, controls, _ in TABLE])
    block = run_thrusters(cases, states, 0.6)
    last = slice(-40_000, None)
    for k, (name, _, controls, expected) in enumerate(TABLE):
        _, _, _, link_v, u_a, v_a, link_a = block.values[k]
        speed, torque = block.speed_rad_s[k], block.torque_n_m[k, last]
        turning = float(np.mean(speed[last]))
        edges = np.count_nonzero(block.edge_times_s[k, : block.edge_counts[k]] > 0.2) / 0.4
        found = (
            rpm(speed[last]),
            edges / 6,
            rms(u_a[last]),
            rms(v_a[last]),
            np.mean(link_a[last]),
            np.mean(link_v[last] * link_a[last]),
            np.mean(torque),
            np.ptp(torque),
            controls.get("load_torque_n_m", 0) * turning,
            edges,
            np.max(np.abs(u_a)),
            np.argmax(speed > 0.95 * turning) / 100_000,
        )
        for column, figure, value in zip(COLUMNS.split(), expected, found, strict=True):
            tolerance = {"i_peak": 0.10, "t95": 0.05}.get(column, 0.02)
            if figure is not None:
                assert value == pytest.approx(figure, rel=tolerance), f"{name}: {column}"


def test_locked_at_a_tenth_of_the_duty_it_takes_what_the_table_says() -> None:
    """The row's figures are those of its first 50 ms: 30 A is where the current ends."""
    cases, states = thrusters([(IDEAL, {"duty": 0.1, "jammed": 1})])
    block = run_thrusters(cases, states, 0.05)
    u_a, link_a, torque = block.values[0, 4], block.values[0, 6], block.torque_n_m[0]
    assert rms(u_a) == pytest.approx(29.09, rel=0.02)
    assert np.mean(link_a) == pytest.approx(2.88, rel=0.02)
    assert 36 * np.mean(link_a) == pytest.approx(103.7, rel=0.02)
    assert np.mean(torque) == pytest.approx(3.3, rel=0.02)
    assert np.ptp(torque) == pytest.approx(3.435, rel=0.02)
    assert np.max(u_a) == pytest.approx(30, rel=0.02)
    assert block.edge_counts[0] == 0


def test_the_drive_holds_the_current_of_the_driven_pair_within_its_limit() -> None:
    motor = Brushless()
    motor.set(supply_on=1, duty=1, jammed=1, current_limit_a=25)
    u_v, v_v, _, _, u_a, v_a, link_a = motor.advance(2_000).values[:, -1]
    assert (u_a, v_a) == pytest.approx((25, -25))  # sector 1: U to V
    assert u_v - v_v == pytest.approx(2 * 0.06 * 25)
    assert link_a == pytest.approx(25 * 2 * 0.06 * 25 / 36)


def test_started_and_reversed_at_full_duty_the_limit_keeps_every_phase_within_half_more() -> None:
    motor = Brushless()
    motor.set(supply_on=1, duty=1, load_torque_n_m=0.1)
    ahead = motor.advance(10_000)
    motor.set(direction=-1)
    astern = motor.advance(10_000)
    assert rpm(ahead.speed_rad_s[-2_000:]) == pytest.approx(-rpm(astern.speed_rad_s[-2_000:]), rel=0.01)
    for trace in (ahead, astern):
        assert 38 < np.max(np.abs(trace.values[4:6])) < 1.5 * 40
    assert np.min(astern.values[6]) < -20  # braking gives back to the link


def test_switched_off_it_coasts_on_friction_and_the_terminals_show_the_back_emf() -> None:
    """Speed after t: J dw/dt = -T0 - B w. Line to line the EMF is 2 k_e w on the flat tops."""
    motor = Brushless()
    motor.set(supply_on=1, duty=0.5)  # slow enough to stay below the link, which discharges meanwhile
    motor.advance(10_000)
    motor.set(supply_on=0)
    trace = motor.advance(8_000)
    w0, t = trace.speed_rad_s[200], np.arange(7_800) / 20_000
    fall = (w0 + 0.03 / 1e-4) * np.exp(-t * 1e-4 / 4e-4) - 0.03 / 1e-4
    assert trace.speed_rad_s[200:] == pytest.approx(fall, rel=1e-3)
    assert not np.any(trace.values[4:, 200:])
    line = np.ptp(trace.values[:3, 200:1_000], axis=0)
    assert np.max(line) == pytest.approx(2 * 0.0573 * w0, rel=0.01)
    assert trace.values[3, 2_200] == pytest.approx(trace.values[3, 200] * np.exp(-0.1 / 0.47), rel=1e-3)


def test_turned_fast_with_an_empty_link_it_charges_the_link_through_the_diodes() -> None:
    cases, states = thrusters([(THRUSTER, {"supply_on": 0})])
    cases["inertia_kg_m2"], states["speed_rad_s"] = 1e12, 250.0
    block = run_thrusters(cases, states, 0.5)
    link_v = block.values[0, 3]
    assert np.max(link_v) > 1.2 * np.mean(link_v[-5_000:])  # inductance and capacitor overshoot first
    assert np.mean(link_v[-5_000:]) == pytest.approx(2 * 0.0573 * 250 - 2 * 0.7, rel=0.02)
    assert block.torque_n_m[0, 1:2_000].min() < 0


def test_a_stopped_shaft_stays_where_it_is() -> None:
    motor = Brushless()
    motor.set(supply_on=1, duty=0.5)
    motor.advance(4_000)
    motor.set(supply_on=0)
    motor.advance(60_000)
    trace = motor.advance(2_000)
    assert not np.any(trace.speed_rad_s)
    assert not np.any(trace.values[[0, 1, 2, 4, 5, 6]])
    assert trace.edge_times_s.size == 0
