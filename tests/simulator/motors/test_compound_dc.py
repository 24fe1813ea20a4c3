"""The compound motor against the project's own reference table, printed examples and common facts of the trade.

The figures of the table were computed independently of this model, without ripple. 2 % for steady values, 5 % for
times, 10 % for peaks.
"""

from collections.abc import Mapping
from dataclasses import replace
from math import pi

import numpy as np
import pytest

from simulator.motors.compound_dc import CUMULATIVE, DIFFERENTIAL, MODEL
from simulator.motors.motor import Motor
from simulator.motors.wound_field import Parameters
from tests.simulator.motors.cases import batch, rpm, run

RATE_HZ = 20_000.0
SEPARATE = {"field_separate": 1.0, "load_torque_n_m": 0.0}
# motor, controls, start speed: speed_rpm, I_a, I_f, I_line, T_air, P_out, i_a_peak, n_max, t95
Row = tuple[Parameters, Mapping[str, float], float, tuple[float | None, ...]]
LOADED = {"load_torque_n_m": 3.78}
TABLE: tuple[Row, ...] = (
    (CUMULATIVE, LOADED, 180, (1669, 4.316, 0.5, 4.816, 4.017, 660.7, 4.316, 1719, None)),
    (CUMULATIVE, {}, 180, (1888, 0.2779, 0.5, 0.7779, 0.2488, 0, 3.129, 1888, None)),
    (DIFFERENTIAL, LOADED, 180, (1820, 4.761, 0.5, 5.261, 4.025, 720.3, 9.407, 1820, None)),
    (CUMULATIVE, LOADED, 0, (1669, 4.316, 0.5, 4.816, 4.017, 660.7, 43.12, 1669, 0.4014)),
    (DIFFERENTIAL, {"load_torque_n_m": 1}, 0, (-4035, 43.38, 0.5, 43.88, -2.465, -422.5, 49.67, 32.02, 4.253)),
)


def plain(motor: Parameters) -> Parameters:
    return replace(motor, contact_ripple=0.0, emf_ripple=0.0)


def test_every_row_of_the_reference_table() -> None:
    """The last row's P_out has the torque that the load takes, 1 N.m, times its speed: negative as in the table."""
    rate_hz = 4000.0
    cases, states = batch(MODEL, [(plain(motor), controls) for motor, controls, _, _ in TABLE], **SEPARATE)
    states["field_a"], states["speed_rad_s"] = 0.5, [w for _, _, w, _ in TABLE]
    block = run(MODEL, cases, states, 5.0, rate_hz)
    for k, (_, controls, _, (speed, ia, jf, line, torque, out_w, peak, highest, t95)) in enumerate(TABLE):
        late, v, w = slice(-800, None), block.values[k], block.speed_rad_s[k]
        n = w * 30 / pi
        assert n[late].mean() == pytest.approx(speed, rel=0.02)
        assert v[1, late].mean() == pytest.approx(ia, rel=0.02)
        assert v[3, late].mean() == pytest.approx(jf, rel=0.02)
        assert (v[1] + v[3])[late].mean() == pytest.approx(line, rel=0.02)
        assert block.torque_n_m[k, late].mean() == pytest.approx(torque, rel=0.02)
        assert controls.get("load_torque_n_m", 0) * w[late].mean() == pytest.approx(out_w, rel=0.02, abs=0.01)
        assert np.abs(v[1]).max() == pytest.approx(peak, rel=0.1)
        assert n.max() == pytest.approx(highest, rel=0.02)
        if t95:
            assert np.argmax(np.abs(n) > 0.95 * abs(n[-1])) / rate_hz == pytest.approx(t95, rel=0.05)


def test_printed_example_of_cumulative_and_differential_at_one_torque() -> None:
    """Guru, Hiziroglu, Electric Machinery and Transformers, 3rd ed., example 6.3 (p. 370), in a companion.

    240 V, 20.68 N.m, 0.4 and 0.1 ohm; 22.5 A as a shunt motor; the series field changes the flux by 12.5 %:
    4600 W at 2124 r/min, 5840.816 W at 2697 r/min.
    """
    k = 20.68 / 22.5
    base = replace(
        plain(CUMULATIVE), armature_ohm=0.4, armature_h=0.01, series_ohm=0.1, field_ohm=240, field_h=12.0,
        flux_v_s=k * 1e9, saturation_a=1e9, residual_v_s=0.0, brush_v=0.0, dry_n_m=0.0, viscous_n_m_s=0.0,
    )  # fmt: skip
    # 1 A in the field; turns of the series field so that its current changes the flux by an eighth
    amps = [22.5 / (1 + sign * 0.125) for sign in (1, -1)]
    motors = [replace(base, series_turns=sign * 0.125 / i) for sign, i in zip((1, -1), amps, strict=True)]
    cases, states = batch(MODEL, [(motor, {"battery_v": 240, "load_torque_n_m": 20.68}) for motor in motors])
    states["speed_rad_s"], states["field_a"], states["armature_a"] = np.array([2124, 2697]) * pi / 30, 1, amps
    # the differential point is unstable at constant torque, so it is looked at before it leaves
    block = run(MODEL, cases, states, 0.001)
    ia = block.values[:, 1]
    assert ia[:, -1] == pytest.approx(amps, rel=1e-3)
    assert (block.values[:, 0, 0] - 0.5 * ia[:, 0]) * ia[:, 0] == pytest.approx([4600, 5840.816], abs=0.01)
    assert block.torque_n_m[:, -1] * block.speed_rad_s[:, -1] == pytest.approx([4600, 5840.816], rel=1e-3)
    assert block.speed_rad_s[:, -1] * 30 / pi == pytest.approx([2124, 2697], abs=1)


def test_a_cumulative_motor_sags_more_and_a_differential_one_less_than_a_shunt() -> None:
    """Common practice, no published source."""
    rows = [
        (m, {"load_torque_n_m": T, "series_shorted": s})
        for m, s in ((CUMULATIVE, 0), (DIFFERENTIAL, 0), (CUMULATIVE, 1))
        for T in (0, 3.78)
    ]
    cases, states = batch(MODEL, rows, **SEPARATE)
    states["speed_rad_s"], states["field_a"] = 180, 0.5
    n = rpm(run(MODEL, cases, states, 5.0, 4000.0).speed_rad_s[:, -800:]).reshape(3, 2)
    cumulative, differential, shunt = n[:, 1] / n[:, 0]
    assert cumulative < shunt < differential


def test_the_series_field_shorted_lets_a_differential_motor_start_forwards() -> None:
    """Common practice, no published source; exchanging its ends makes it cumulative, which starts too."""
    rows = [
        (DIFFERENTIAL, {"load_torque_n_m": 1, **more}) for more in ({}, {"series_shorted": 1}, {"series_reversed": 1})
    ]
    cases, states = batch(MODEL, rows, field_separate=1)
    states["field_a"] = 0.5
    direct, shorted, reversed_ = run(MODEL, cases, states, 5.0, 4000.0).speed_rad_s[:, -1]
    assert direct < -100
    assert shorted > 150
    assert reversed_ > 150


@pytest.mark.parametrize(("changes", "forward"), [({"polarity": -1}, 1), ({"armature_reversed": 1}, -1)])
def test_the_armature_alone_reverses_it_and_leaves_it_cumulative(changes: dict[str, float], forward: int) -> None:
    """The leads of the armature with its brushes, behind the series field: derived, a table of reversing rules."""
    motor = replace(plain(CUMULATIVE), residual_v_s=0.0)
    cases, states = batch(MODEL, [(motor, {**LOADED, **more}) for more in ({}, changes)])
    speeds = rpm(run(MODEL, cases, states, 5.0, 4000.0).speed_rad_s[:, -800:])
    assert speeds[1] == pytest.approx(forward * speeds[0], rel=1e-6)


def test_energy_given_is_lost_or_leaves_by_the_shaft_or_is_stored() -> None:
    changes: tuple[dict[str, float], ...] = (
        {}, {"load_torque_n_m": 3.78}, {"series_reversed": 1}, {"armature_reversed": 1}, {"supply_on": 0},
        {"jammed": 1},
    )  # fmt: skip
    motor = Motor(MODEL, CUMULATIVE, RATE_HZ)
    motor.set(supply_on=1)
    for change in changes:
        motor.set(**change)
        motor.advance(12_000)
        energy = motor.energy
        assert energy.input == pytest.approx(energy.lost + energy.shaft + energy.stored, rel=0.005), change
    assert energy.lost > 100


def test_half_the_step_changes_less_than_the_digits_of_the_table() -> None:
    figures = []
    for steps in (1, 4):
        cases, states = batch(MODEL, [(plain(motor), controls) for motor, controls, _, _ in TABLE], **SEPARATE)
        states["field_a"], states["speed_rad_s"] = 0.5, [w for _, _, w, _ in TABLE]
        block = run(MODEL, cases, states, 2.0, steps=steps)
        figures.append((block.speed_rad_s[:, ::100], np.abs(block.values[:, 1]).max(-1), block.values[:, 1, ::100]))
    for coarse, fine in zip(*figures, strict=True):
        assert coarse == pytest.approx(fine, rel=3e-4, abs=5e-3)
