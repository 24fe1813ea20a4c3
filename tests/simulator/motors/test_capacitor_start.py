"""The air compressor against the project's own reference tables, computed independently of this model.

Tolerances belong to the tables: 2 % on settled figures, 5 % on times, 10 % on peaks.
"""

import numpy as np
import pytest

from simulator.motors.capacitor_start import AIR_COMPRESSOR, AIR_COMPRESSOR_START_RUN, MODEL
from simulator.motors.motor import Motor
from simulator.motors.single_phase import RUN, START
from tests.simulator.motors.cases import batch, rms, rpm, run
from tests.simulator.motors.induction import (
    AUXILIARY_A,
    CAPACITOR_V,
    LINE_A,
    START_CAPACITOR_V,
    START_CLOSED,
    Row,
    check_points,
    cycle_rms,
    phasor,
)

CYCLE = 400
FULL = {"load_torque_n_m": 6.1}
COLUMNS = "speed_rpm slip_percent I P PF I_main I_aux U_cap T_air P_out eff"
POINTS: tuple[Row, ...] = (
    ("6.1", AIR_COMPRESSOR, FULL, (1431, 4.599, 7.354, 1278, 0.7554, 7.069, 0, None, 6.22, 914.1, 0.7154)),
    ("0.3", AIR_COMPRESSOR, {"load_torque_n_m": 0.3},
     (1495, 0.3488, 5.194, 265.6, 0.2223, 5.122, 0, None, 0.4252, 46.96, 0.1768)),
    ("4.5", AIR_COMPRESSOR, {"load_torque_n_m": 4.5},
     (1451, 3.269, 6.42, 975.8, 0.6609, 6.173, 0, None, 4.622, 683.8, 0.7007)),
    ("6.1 at 207 V", AIR_COMPRESSOR, {**FULL, "mains_v": 207},
     (1410, 5.966, 7.563, 1275, 0.8141, 7.285, 0, None, 6.218, 901, 0.7069)),
    ("locked", AIR_COMPRESSOR, {"jammed": 1}, (0, 100, 32.93, 7100, 0.9375, 32.81, 6.685, 266.3, 14.2, 0, 0)),
    ("locked, capacitor lost", AIR_COMPRESSOR, {"jammed": 1, "start_capacitor_open": 1},
     (0, 100, 33.13, 6465, 0.8483, 32.81, 0, None, 0, 0, 0)),
    ("stuck closed", AIR_COMPRESSOR, {**FULL, "switch_stuck_closed": 1},
     (1437, 4.189, 19.65, 3765, 0.833, 11.05, 12.12, 482.7, 6.22, 918, 0.2439)),
    ("start/run", AIR_COMPRESSOR_START_RUN, FULL,
     (1444, 3.725, 5.153, 1129, 0.9524, 3.914, 2.036, 405.1, 6.221, 922.5, 0.8173)),
    ("1125", AIR_COMPRESSOR, {"load_torque_n_m": 0, "load_inertia_kg_m2": 1000, "switch_stuck_closed": 1},
     (1125, 25, 26.06, 5991, 0.9997, 18.57, 7.622, 303.6, 26.01, None, None)),
)  # fmt: skip


def test_every_point_of_the_table_is_where_the_motor_settles() -> None:
    block = check_points(MODEL, COLUMNS, POINTS, 3.0, {"1125": 1125.0})
    w = block.speed_rad_s[8, -12_000:]
    assert np.mean(block.torque_n_m[8, -12_000:] * w - 0.0008 * w**2) == pytest.approx(3053, rel=0.02)
    leads = []
    for k in range(len(POINTS)):
        u, line_a = (phasor(block.values[k, signal, -12_000:], 50, 20_000) for signal in (0, LINE_A))
        leads.append(bool(np.angle(line_a / u) > 0))
    assert [name for (name, *_), lead in zip(POINTS, leads, strict=True) if lead] == ["stuck closed"]


@pytest.mark.parametrize(
    ("load_n_m", "t_open", "t95", "i_peak", "cap_peak", "cap_left", "before_a", "after_a", "n_final", "line_a"),
    [
        (6.1, 0.2691, 0.3666, 50.82, 430.4, 430.4, 28.34, 17.26, 1431, 7.358),
        (1.0, 0.1991, 0.2768, 51.08, 422.8, -422.8, 29.42, 15.73, 1488, 5.269),
    ],
)
def test_the_start_takes_as_long_and_as_much_as_the_table_says(
    load_n_m: float, t_open: float, t95: float, i_peak: float, cap_peak: float, cap_left: float, before_a: float,
    after_a: float, n_final: float, line_a: float,
) -> None:  # fmt: skip
    motor = Motor(MODEL)
    motor.set(supply_on=1, load_torque_n_m=load_n_m)
    trace = motor.advance(40_000)
    line, capacitor_v = trace.values[LINE_A], trace.truths[START_CAPACITOR_V]
    opened = int(np.flatnonzero(np.diff(trace.truths[START_CLOSED]) < 0)[0]) + 1
    final = np.mean(trace.speed_rad_s[-4_000:])
    assert opened / 20_000 == pytest.approx(t_open, rel=0.05)
    assert np.argmax(trace.speed_rad_s > 0.95 * final) / 20_000 == pytest.approx(t95, rel=0.05)
    assert np.max(np.abs(line)) == pytest.approx(i_peak, rel=0.10)
    assert np.max(np.abs(capacitor_v)) == pytest.approx(cap_peak, rel=0.10)
    assert capacitor_v[-1] == pytest.approx(cap_left, rel=0.02)
    assert trace.values[CAPACITOR_V, -1] == capacitor_v[-1]
    assert cycle_rms(line, opened - 2 * CYCLE) == pytest.approx(before_a, rel=0.02)
    assert cycle_rms(line, opened + CYCLE) == pytest.approx(after_a, rel=0.02)
    assert final * 30 / np.pi == pytest.approx(n_final, rel=0.02)
    assert rms(line[-4_000:]) == pytest.approx(line_a, rel=0.02)


def test_without_its_start_capacitor_it_stands_at_the_locked_current_with_a_lower_power_factor() -> None:
    """The project's own reference tables: 33.1 A, 0.85 instead of 0.94, no step of the current."""
    motor = Motor(MODEL)
    motor.set(supply_on=1, start_capacitor_open=1)
    trace = motor.advance(20_000)
    u, _, line_a, auxiliary_a = trace.values[:, -4_000:]
    assert abs(rpm(trace.speed_rad_s)) < 20
    assert rms(line_a) == pytest.approx(33.13, rel=0.02)
    assert np.mean(u * line_a) / (rms(u) * rms(line_a)) == pytest.approx(0.8483, rel=0.02)
    assert not np.any(auxiliary_a)


def test_a_compressors_pulsating_load_moves_the_current_at_the_turning_rate() -> None:
    """T_L (1 + 0.6 sin theta): several per cent of the current at n/60 Hz."""
    motor = Motor(MODEL)
    motor.set(supply_on=1, load_torque_n_m=6.1, load_pulsation=0.6)
    motor.advance(20_000)
    trace = motor.advance(40_000)
    turning_hz = float(rpm(trace.speed_rad_s)) / 60
    cycles = rms(trace.values[LINE_A].reshape(-1, 200))
    spectrum = np.abs(np.fft.rfft(cycles - cycles.mean()))
    assert np.argmax(spectrum) / 2.0 == pytest.approx(turning_hz, abs=0.5)
    assert 0.02 < np.std(cycles) * np.sqrt(2) / np.mean(cycles) < 0.3


def test_both_capacitors_share_the_start_and_the_run_capacitor_stays() -> None:
    """Behind one winding the currents share as the capacitances, 80 to 16, but for the resistances."""
    motor = Motor(MODEL, AIR_COMPRESSOR_START_RUN)
    motor.set(supply_on=1, jammed=1)
    motor.advance(8_000)
    trace = motor.advance(4_000)
    start_w = 2 * np.pi * 50
    start, run = 2 + 1 / (1j * start_w * 80e-6), 1 + 1 / (1j * start_w * 16e-6)
    both = 1 / (1 / start + 1 / run)
    auxiliary, across = (phasor(trace.values[k], 50, 20_000) for k in (AUXILIARY_A, CAPACITOR_V))
    assert across == pytest.approx(auxiliary * both, rel=1e-3)
    motor.set(jammed=0, load_torque_n_m=6.1)
    running = motor.advance(40_000)
    assert running.truths[START_CLOSED, -1] == 0
    assert rms(running.values[AUXILIARY_A, -4_000:]) == pytest.approx(2.036, rel=0.02)


@pytest.mark.parametrize(("device", "within"), [(2, (750, 1450)), (3, (300, 1495))])
def test_a_relay_or_a_ptc_starts_it_too(device: float, within: tuple[float, float]) -> None:
    """Textbook knowledge, no published figures."""
    motor = Motor(MODEL)
    motor.set(supply_on=1, start_device=device)
    trace = motor.advance(40_000)
    opened = int(np.flatnonzero(np.diff(trace.truths[START_CLOSED]) < 0)[0]) + 1
    assert within[0] < trace.speed_rad_s[opened] * 30 / np.pi < within[1]
    assert rpm(trace.speed_rad_s[-4_000:]) == pytest.approx(1488, rel=0.02)


@pytest.mark.parametrize("name", ["air_compressor", "air_compressor_start_run"])
def test_wound_for_120_v_and_60_hz_it_takes_the_same_power_at_a_fifth_more_speed(name: str) -> None:
    """The rule of the 60 Hz variant: I' = I 230/120, T' = T/1.2, n' = 1.2 n."""
    found = []
    for key, cycles, load in ((name, 50, 6.1), (f"{name}_60_hz", 60, 6.1 / 1.2)):
        motor = Motor(MODEL, MODEL.parameter_sets[key])
        motor.set(supply_on=1, load_torque_n_m=load)
        motor.advance(40_000)
        trace = motor.advance(round(20_000 / cycles * 30))
        found.append(
            (np.mean(trace.values[0] * trace.values[LINE_A]), rms(trace.values[LINE_A]), rpm(trace.speed_rad_s))
        )
    (power, current, speed), (power_60, current_60, speed_60) = found
    assert power_60 == pytest.approx(power, rel=0.01)
    assert current_60 == pytest.approx(current * 230 / 120, rel=0.01)
    assert speed_60 == pytest.approx(1.2 * speed, rel=0.002)


def test_two_capacitors_of_unequal_voltage_balance_and_half_of_the_rest_is_lost() -> None:
    """Charge stays; energy lost is C1 C2 / (C1 + C2) U^2 / 2, whatever the resistance. From textbooks."""
    cases, states = batch(MODEL, [(AIR_COMPRESSOR_START_RUN, {"supply_on": 0, "auxiliary_open": 1, "start_device": 0})])
    states["y"][0, 4], states["farads"] = 300, (80e-6, 16e-6)
    run(MODEL, cases, states, 0.1, steps=8)
    assert states["closed"][0] == START | RUN
    assert states["y"][0, 4:] == pytest.approx(300 * 80 / 96, rel=1e-3)
    assert states["energy_j"][0, 1] == pytest.approx(0.5 * 80e-6 * 16e-6 / 96e-6 * 300**2, rel=0.02)
