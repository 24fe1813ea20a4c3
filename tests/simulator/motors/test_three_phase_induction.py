"""The slipway pump against the project's own reference tables, printed examples and common facts of the trade.

The figures of the tables were computed independently of this model. 2 % for steady values, 5 % for times, 10 % for
peaks, decibels within 1; at rest is below 20 r/min.
"""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from math import pi, sqrt
from typing import Any

import numpy as np
import pytest

from simulator.motors.three_phase_induction import MODEL, SLIPWAY_PUMP, Parameters
from simulator.physics.stepping import Block
from tests.simulator.motors.cases import Floats, batch, rms, run

RATE_HZ = 10_000.0
NO_CORE = replace(SLIPWAY_PUMP, core_ohm=1e12)
HELD_SPEED = {"load_inertia_kg_m2": 1000.0}  # in a second the speed does not change
LATE = slice(-2000, None)
# controls: speed_rpm, slip_percent, I, P, PF, T_air, P_out, eff; all settled
POINTS: tuple[tuple[Mapping[str, float], tuple[float, ...]], ...] = (
    ({"load_torque_n_m": 10}, (1420, 5.33, 3.399, 1882, 0.7991, 10.19, 1487, 0.7903)),
    ({}, (1499, 0.09204, 2.109, 188, 0.1286, 0.204, 0, 0)),
    ({"load_torque_n_m": 5}, (1462, 2.509, 2.477, 999.8, 0.5827, 5.199, 765.7, 0.7659)),
    ({"load_torque_n_m": 12.5}, (1396, 6.951, 4.001, 2355, 0.8497, 12.69, 1827, 0.7757)),
    ({"load_torque_n_m": 10, "mains_v": 360}, (1397, 6.876, 3.576, 1891, 0.8479, 10.19, 1463, 0.7737)),
    ({"jammed": 1}, (0, 100, 18.01, 9953, 0.7976, 24.23, 0, 0)),
    ({"jammed": 1, "mains_v": 75.6}, (0, 100, 3.404, 355.5, 0.7976, 0.8656, 0, 0)),
    ({"load_factor": 1}, (1420, 5.33, 3.399, 1882, 0.7991, 10.19, 1487, 0.7903)),
    ({"load_torque_n_m": 10, "phase_order": -1}, (-1420, 194.67, 3.399, 1882, 0.7991, -10.19, 1487, 0.7903)),
)
# of the same rows: t95, i_peak
STARTS = {0: (0.1078, 26.64), 1: (0.077, 26.59), 7: (0.0808, 26.59), 8: (0.1078, 26.64)}


def pumps(rows: Sequence[tuple[Parameters, Mapping[str, float]]]) -> tuple[Any, Any]:
    """Cases and states; no pump on the shaft unless a row says so."""
    return batch(MODEL, rows, load_factor=0.0)


def power_w(block: Block, case: int, samples: slice = LATE) -> float:
    """Mean electrical power of three lines."""
    v = block.values[case, :, samples]
    return float(np.mean(np.sum(v[:3] * v[3:], axis=0)))


def mean_rpm(block: Block, case: int, samples: slice = LATE) -> float:
    return float(block.speed_rad_s[case, samples].mean() * 30 / pi)


def lines_a(block: Block, case: int, samples: slice = LATE) -> Floats:
    """RMS of the three line currents."""
    return rms(block.values[case, 3:, samples])


def test_every_point_of_the_reference_table() -> None:
    block = run(MODEL, *pumps([(SLIPWAY_PUMP, controls) for controls, _ in POINTS]), 1.0, RATE_HZ)
    for k, (_, (speed, slip, amps, watts, factor, torque, out, efficiency)) in enumerate(POINTS):
        line_v = sqrt(3) * rms(block.values[k, :3, LATE])
        p_out = np.mean(block.truths[k, 2, LATE] * block.speed_rad_s[k, LATE])
        assert mean_rpm(block, k) == pytest.approx(speed, rel=0.02, abs=20 * (speed == 0))
        assert (1500 - mean_rpm(block, k)) / 15 == pytest.approx(slip, rel=0.02)
        assert lines_a(block, k) == pytest.approx(np.full(3, amps), rel=0.02)
        assert power_w(block, k) == pytest.approx(watts, rel=0.02)
        apparent = sqrt(3) * line_v.mean() * lines_a(block, k).mean()
        assert power_w(block, k) / apparent == pytest.approx(factor, rel=0.02)
        assert block.torque_n_m[k, LATE].mean() == pytest.approx(torque, rel=0.02)
        if speed != 0:
            assert np.ptp(block.torque_n_m[k, LATE]) < 0.01
        assert p_out == pytest.approx(out, rel=0.02, abs=0.1)
        assert p_out / power_w(block, k) == pytest.approx(efficiency, rel=0.02, abs=0.001)
    for k, (t95, peak) in STARTS.items():
        reached = np.abs(block.speed_rad_s[k]) > 0.95 * abs(block.speed_rad_s[k, LATE].mean())
        assert np.argmax(reached) / RATE_HZ == pytest.approx(t95, rel=0.05)
        assert np.abs(block.values[k, 3]).max() == pytest.approx(peak, rel=0.1)


def test_plugged_at_full_speed_it_draws_more_than_locked() -> None:
    """The row *plugging instant at -1420*: 20.44 A, 10439 W, power factor 0.737, 16.08 N.m, -2420 W at the shaft."""
    cases, states = pumps([(SLIPWAY_PUMP, HELD_SPEED)])
    states["speed_rad_s"] = w = -1420 * pi / 30
    block = run(MODEL, cases, states, 1.0, RATE_HZ)
    watts, torque = power_w(block, 0), block.torque_n_m[0, LATE].mean()
    assert lines_a(block, 0) == pytest.approx(np.full(3, 20.44), rel=0.02)
    assert watts == pytest.approx(10439, rel=0.02)
    assert watts / (sqrt(3) * 400 * lines_a(block, 0)[0]) == pytest.approx(0.737, rel=0.02)
    assert torque == pytest.approx(16.08, rel=0.02)
    assert (torque - SLIPWAY_PUMP.viscous_n_m_s * w) * w == pytest.approx(-2420, rel=0.02)


# controls with L1 open, from 1420 r/min or from rest: speed, I of L2 and L3, P, S, PF, T_pp
LOST = (
    ({"load_torque_n_m": 10}, (1350, 7.038, 2430, 3251, 0.7476, 10.18, 22.17)),
    ({"load_torque_n_m": 5}, (1449, 4.102, 1096, 1895, 0.5786, 5.197, 16.22)),
)


def test_rows_of_a_lost_phase() -> None:
    """The core is left out of these rows, and S counts the supply's phase voltages."""
    cases, states = pumps([(NO_CORE, controls) for controls, _ in LOST])
    states["speed_rad_s"] = 1420 * pi / 30
    run(MODEL, cases, states, 0.2, RATE_HZ)
    cases, _ = pumps([(NO_CORE, {**controls, "l1_connected": 0}) for controls, _ in LOST])
    block = run(MODEL, cases, states, 1.5, RATE_HZ, first=2000)
    for k, (_, (speed, amps, watts, va, factor, torque, swing)) in enumerate(LOST):
        apparent = 400 / sqrt(3) * lines_a(block, k).sum()
        assert mean_rpm(block, k) == pytest.approx(speed, rel=0.02)
        assert lines_a(block, k) == pytest.approx([0, amps, amps], rel=0.02, abs=1e-9)
        assert power_w(block, k) == pytest.approx(watts, rel=0.02)
        assert (apparent, power_w(block, k) / apparent) == pytest.approx((va, factor), rel=0.02)
        assert block.torque_n_m[k, LATE].mean() == pytest.approx(torque, rel=0.02)
        assert np.ptp(block.torque_n_m[k, LATE]) == pytest.approx(swing, rel=0.02)


@pytest.mark.parametrize("open_line", [1, 2, 3])
def test_any_line_lost_at_rest_leaves_two_equal_currents_and_no_rotation(open_line: int) -> None:
    """The row *phase A lost at standstill*: 15.53 A, 4940 W, S 7171 VA; and the two currents are opposite."""
    cases, states = pumps([(NO_CORE, {f"l{open_line}_connected": 0}), (SLIPWAY_PUMP, {f"l{open_line}_connected": 0})])
    block = run(MODEL, cases, states, 0.5, RATE_HZ)
    lost = open_line - 1
    amps = np.delete(lines_a(block, 0), lost)
    assert amps == pytest.approx([15.53, 15.53], rel=0.02)
    assert np.abs(block.values[0, 3 + lost]).max() < 1e-9
    assert np.abs(block.values[0, 3:].sum(axis=0)).max() < 1e-9
    assert abs(mean_rpm(block, 0)) < 20
    assert power_w(block, 0) == pytest.approx(4940, rel=0.02)
    assert 400 / sqrt(3) * amps.sum() == pytest.approx(7171, rel=0.02)
    with_core = np.delete(lines_a(block, 1), lost)  # two phase resistors in series: the sheet's +0.08 A and +36 W
    assert with_core - amps == pytest.approx(np.full(2, 0.08), abs=0.015)
    assert power_w(block, 1) - power_w(block, 0) == pytest.approx(36, rel=0.02)


def test_one_phase_5_percent_low_unbalances_the_currents_six_times_as_much() -> None:
    block = run(MODEL, *pumps([(SLIPWAY_PUMP, {"load_torque_n_m": 10, "l1_percent": 95})]), 1.0, RATE_HZ)
    amps = lines_a(block, 0)
    assert amps == pytest.approx([3.079, 3.633, 3.575], rel=0.02)
    assert (mean_rpm(block, 0), power_w(block, 0)) == pytest.approx((1417, 1886), rel=0.02)
    apparent = float(np.sum(rms(block.values[0, :3, LATE]) * amps))
    nominal = 400 / sqrt(3) * (0.95 * amps[0] + amps[1] + amps[2])
    assert nominal == pytest.approx(2338, rel=0.02)
    assert power_w(block, 0) / nominal == pytest.approx(0.8064, rel=0.02)
    assert apparent == pytest.approx(nominal, rel=0.01)
    assert np.ptp(block.torque_n_m[0, LATE]) == pytest.approx(2.524, rel=0.02)
    axes = np.exp(2j * pi / 3 * np.arange(3))
    tones = np.array([tone(row[LATE], 50, RATE_HZ) for row in block.values[0]])
    volts, currents = tones[:3], tones[3:]
    unbalance = [abs(x @ axes.conj()) / abs(x @ axes) for x in (volts, currents)]
    assert sorted(100 * min(u, 1 / u) for u in unbalance) == pytest.approx([1.69, 9.96], rel=0.02)
    assert 100 * np.abs(amps - amps.mean()).max() / amps.mean() == pytest.approx(10.2, rel=0.03)  # as NEMA counts


def tone(samples: Floats, hertz: float, rate_hz: float) -> complex:
    """Amplitude and phase of one line, under a Hann window."""
    t = np.arange(samples.size) / rate_hz
    window = np.hanning(samples.size + 1)[:-1]
    return complex(2 * np.sum(window * samples * np.exp(-2j * pi * hertz * t)) / window.sum())


def bin_db(samples: Floats, hertz: float, rate_hz: float) -> float:
    """The spectrum's bin nearest to this frequency, against 50 Hz."""
    nearest = round(hertz * samples.size / rate_hz) * rate_hz / samples.size
    return float(20 * np.log10(abs(tone(samples, nearest, rate_hz)) / abs(tone(samples, 50, rate_hz))))


# broken bar, swing, load: speed, f_lower, f_upper, lower_dB, upper_dB
BARS: tuple[tuple[float, float, float, tuple[float, ...]], ...] = (
    (0.1, 0, 10, (1416, 44.42, 55.58, -35.28, -36.42)),
    (0.1, 0, 1, (1491, 49.42, 50.58, -51.55, -51.56)),
    (0, 1, 10, (1420, 44.66, 55.34, -120, -120)),
    (0, 0, 10, (1420, 44.67, 55.33, -120, -120)),
)


def test_sidebands_of_a_broken_bar_and_of_a_load_that_swings() -> None:
    """20 s after 4 s, Hann window, core left out; a whole cage has its lines below -120 dB.

    Read as the table was: at the strongest bin of 0.05 Hz, up to 1.4 dB below the line itself.
    """
    rate_hz = 2000.0
    rows = [
        (NO_CORE, {"broken_bar": e, "load_swing_n_m": swing, "load_torque_n_m": load}) for e, swing, load, _ in BARS
    ]
    cases, states = pumps(rows)
    run(MODEL, cases, states, 4.0, rate_hz)
    block = run(MODEL, cases, states, 20.0, rate_hz, first=8000)
    for k, (eps, swing, _, (speed, lower, upper, lower_db, upper_db)) in enumerate(BARS):
        n, i = block.speed_rad_s[k].mean() * 30 / pi, block.values[k, 3]
        slip = (1500 - n) / 1500
        assert n == pytest.approx(speed, rel=0.02)
        assert (50 * (1 - 2 * slip), 50 * (1 + 2 * slip)) == pytest.approx((lower, upper), abs=0.05)
        db = [bin_db(i, 50 * (1 + sign * 2 * slip), rate_hz) for sign in (-1, 1)]
        if eps > 0:
            assert db == pytest.approx([lower_db, upper_db], abs=1)
        else:
            assert max(db) < -120
        if swing > 0:
            db = [bin_db(i, hertz, rate_hz) for hertz in (47, 53)]
            assert db == pytest.approx([-27.28, -28.7], abs=1)


def held_at(motor: Parameters, slip: float, synchronous_rpm: float, **controls: float) -> tuple[Block, Any, Any]:
    """A settled second at one speed; 60 Hz machines of printed examples."""
    cases, states = pumps([(motor, {"mains_hz": 60, **controls})])
    states["speed_rad_s"] = (1 - slip) * synchronous_rpm * pi / 30
    return run(MODEL, cases, states, 3.0, RATE_HZ), cases, states


def example(poles: int, R1: float, X1: float, R2: float, X2: float, Xm: float) -> Parameters:
    """A motor of a printed example: reactances at 60 Hz, no core, no friction."""
    henry = 1 / (2 * pi * 60)
    return replace(
        NO_CORE,
        pole_pairs=poles // 2,
        stator_ohm=R1,
        rotor_ohm=R2,
        stator_leakage_h=X1 * henry,
        rotor_leakage_h=X2 * henry,
        magnetizing_h=Xm * henry,
        viscous_n_m_s=0.0,
        inertia_kg_m2=1e9,  # holds its speed
    )


FITZGERALD = example(6, 0.294, 0.503, 0.144, 0.209, 13.25)
CHAPMAN = example(4, 0.641, 1.106, 0.332, 0.464, 26.3)
HAMBLEY = example(4, 1.2, 2.0, 0.6, 0.8, 50)


def rotor_a(motor: Parameters, case: Any, state: Any) -> float:
    """RMS of the cage's current, referred to the stator, at this instant (amplitude-invariant axes)."""
    a, b, rotor_a, rotor_b = state["y"]
    ira, irb = rotor_a - motor.magnetizing_h * a, rotor_b - motor.magnetizing_h * b
    return float(np.hypot(ira, irb) * case["rotor_per_h"] / sqrt(2))


def test_fitzgerald_6_3_torque_at_slip_at_start_and_at_breakdown() -> None:
    """Example 6.3, p. 325, as reworked in a public companion: 23.9 A, 65.4 N.m; start 150 A, 77.6; top 175 at 970."""
    block, cases, states = held_at(FITZGERALD, 0.03, 1200, mains_v=220)
    assert block.torque_n_m[0, LATE].mean() == pytest.approx(65.4, abs=0.05)
    assert rotor_a(FITZGERALD, cases[0], states[0]) == pytest.approx(23.9, abs=0.05)
    block, cases, states = held_at(FITZGERALD, 1, 1200, mains_v=220)
    assert block.torque_n_m[0, LATE].mean() == pytest.approx(77.6, abs=0.05)
    assert rotor_a(FITZGERALD, cases[0], states[0]) == pytest.approx(150, abs=0.5)
    speeds = np.arange(930, 1011, 8.0)
    cases, states = pumps([(FITZGERALD, {"mains_hz": 60, "mains_v": 220})] * speeds.size)
    states["speed_rad_s"] = speeds * pi / 30
    torques = run(MODEL, cases, states, 2.0, RATE_HZ).torque_n_m[:, LATE].mean(axis=1)
    curve = np.polynomial.Polynomial.fit(speeds, torques, 4)
    fine = np.linspace(950, 990, 4001)
    assert curve(fine).max() == pytest.approx(175, abs=0.5)
    assert fine[np.argmax(curve(fine))] == pytest.approx(970, abs=0.5)


def test_chapman_7_3_current_and_torque_at_2_2_percent_slip() -> None:
    """Example 7-3 (read in part: current, power and torque were, see the tolerances): 18.88 A, 12530 W, 62.8 N.m."""
    block, _, _ = held_at(CHAPMAN, 0.022, 1800, mains_v=460)
    assert lines_a(block, 0) == pytest.approx(np.full(3, 18.88), abs=0.0143)
    assert power_w(block, 0) == pytest.approx(12530, abs=5)
    assert power_w(block, 0) / (sqrt(3) * 460 * lines_a(block, 0)[0]) == pytest.approx(0.833, abs=0.00105)
    assert block.torque_n_m[0, LATE].mean() == pytest.approx(62.8, abs=0.05)


def test_hambley_17_1_and_17_2_in_delta_running_and_at_start() -> None:
    """Examples 17.1 and 17.2, pp. 774-775, as reworked in a public companion: delta, 37.58 A, 229.99 A, 163.08 N.m."""
    block, _, _ = held_at(HAMBLEY, 0.03, 1800, mains_v=440, delta=1)
    assert lines_a(block, 0) == pytest.approx(np.full(3, 37.58), abs=0.01)
    assert power_w(block, 0) / (sqrt(3) * 440 * lines_a(block, 0)[0]) == pytest.approx(0.89, abs=0.005)
    block, _, _ = held_at(HAMBLEY, 1, 1800, mains_v=440, delta=1)
    assert lines_a(block, 0) == pytest.approx(np.full(3, 229.99), rel=2e-4)
    assert block.torque_n_m[0, LATE].mean() == pytest.approx(163.08, rel=2e-4)
