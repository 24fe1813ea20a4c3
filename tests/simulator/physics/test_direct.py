"""Supplies with two terminals on a plain resistor, against printed examples, mathematics and an integrator of its own.

The resistor is a commutator motor without field and magnets, held, with next to no inductance.
"""

from collections.abc import Mapping
from dataclasses import replace
from math import pi, sin, sqrt
from typing import Any

import numpy as np
import pytest

from simulator.motors.commutator import Parameters
from simulator.motors.motor import Motor
from simulator.motors.universal import HAND_PLANER, MODEL
from tests.simulator.motors.cases import Floats, batch, rms, run

FINE_HZ, FINEST_HZ = 100_000.0, 1e6


def resistor(ohm: float, henry: float = 0.0) -> Parameters:
    return replace(
        HAND_PLANER, winding_ohm=ohm, winding_h=henry or ohm * 0.5e-6, field_v_s=0.0, brush_v=0.0, contact_ripple=0.0,
        emf_ripple=0.0,
    )  # fmt: skip


def without_diode_drop(cases: Any) -> None:
    cases["supply"]["drop_v"] = 0.0


def fed(ohm: float, rows: list[Mapping[str, float]], seconds: float = 0.04) -> tuple[Floats, Floats]:
    """Channels (cases, 4, samples), and the power that each supply gave, in W; a resistor on ideal diodes."""
    cases, states = batch(MODEL, [(resistor(ohm), {"jammed": 1, **row}) for row in rows])
    without_diode_drop(cases)
    block = run(MODEL, cases, states, seconds, FINEST_HZ, 1)
    return block.values, states["energy_j"][:, 0] / seconds


def test_printed_example_of_a_triac_at_45_degrees() -> None:
    """Bimbhra, Power Electronics, example 9.2 (p. 560), in a companion: on 230 V and 20 ohm."""
    values, power = fed(20.0, [{"triac_angle_deg": 45}])
    u, i = values[0, 0], values[0, 1]
    assert power[0] == pytest.approx(2404.71, abs=0.2)
    assert rms(u) == pytest.approx(219.304, abs=0.01)
    assert power[0] / (230 * rms(i)) == pytest.approx(0.95, abs=0.005)
    assert np.maximum(i, 0).mean() == pytest.approx(4.42, abs=0.005)
    assert rms(np.maximum(i, 0)) == pytest.approx(7.75, abs=0.005)


def test_printed_table_of_a_triac_from_30_to_150_degrees() -> None:
    """A calculator page (codingace.net), 230 V on 50 ohm."""
    watts = {30: 1027.493, 60: 851.160, 90: 529.000, 120: 206.840, 150: 30.507}
    volts = {30: 226.660, 60: 206.296, 90: 162.635, 120: 101.696, 150: 39.056}
    _, power = fed(50.0, [{"triac_angle_deg": angle} for angle in watts])
    assert power == pytest.approx(list(watts.values()), rel=5e-4)
    assert np.sqrt(power * 50) == pytest.approx(list(volts.values()), rel=2.5e-4)


def test_printed_example_of_six_cycles_on_and_four_off() -> None:
    """Bimbhra, Power Electronics, example 9.3 (p. 564), in a companion: 178.16 V, PF 0.77 on 15 ohm."""
    motor, power_w = Motor(MODEL, resistor(15.0), FINE_HZ), 0.0
    motor.set(jammed=1)
    samples = []
    for _ in range(3):
        motor.set(supply_on=1)
        samples.append(motor.advance(12_000).values)
        motor.set(supply_on=0)
        samples.append(motor.advance(8_000).values)
    power_w = motor.energy.input / 0.6
    volts = sqrt(power_w * 15)
    assert volts == pytest.approx(178.16, abs=0.01)
    assert power_w / (230 * volts / 15) == pytest.approx(0.77, abs=0.005)
    assert rms(np.concatenate(samples, axis=1)[0]) == pytest.approx(178.16, abs=0.02)


def test_ideal_diodes_give_the_waveforms_of_mathematics() -> None:
    """Fourier series of rectified sines; form factor 1.11 of the full wave: a tutorial page (next.gr)."""
    values, _ = fed(10.0, [{"supply_kind": 3}, {"supply_kind": 2}])
    peak = 230 * sqrt(2)
    lines = np.abs(np.fft.rfft(values[:, 0])) * 2 / values.shape[-1] / peak
    half, full = lines[0], lines[1]
    assert rms(values[:, 0]) / peak == pytest.approx([0.5, 0.7071067812], abs=1e-4)
    assert values[:, 0].mean(-1) / peak == pytest.approx([0.3183098862, 0.6366197724], abs=1e-4)
    assert half[[2, 4, 8]] == pytest.approx([0.5, 0.2122065908, 0.04244131816], abs=2e-4)
    assert full[[4, 8]] == pytest.approx([0.4244131816, 0.08488263632], abs=2e-4)
    assert rms(values[1, 0]) / values[1, 0].mean() == pytest.approx(1.11, abs=0.005)
    assert np.abs(values[:, 0]).max(-1) / rms(values[:, 0]) == pytest.approx([2.0, sqrt(2)], abs=1e-3)


def test_diodes_take_their_drop_and_the_mains_side_sees_both_half_waves() -> None:
    cases, states = batch(MODEL, [(resistor(10.0), {"jammed": 1, "supply_kind": 2})])
    values = run(MODEL, cases, states, 0.1, FINE_HZ, 1).values[0]
    assert values[0].max() == pytest.approx(230 * sqrt(2) - 1.6, abs=0.01)
    assert values[2].min() == pytest.approx(-230 * sqrt(2), abs=0.01)
    assert np.abs(values[3]) == pytest.approx(values[1])
    assert abs(values[3].mean()) < 0.01


def charged(ohm: float, farad: float, source_ohm: float, source_h: float, cycles: int) -> tuple[Floats, Floats]:
    """Capacitor's voltage and the current into it every 50 us: explicit steps of 0.5 us, written without the model."""
    h, u_c, i_s = 0.5e-6, 0.0, 0.0
    volts, amps = [], []
    for n in range(round(cycles * 0.02 / h)):
        if n % 100 == 0:
            volts.append(u_c)
            amps.append(i_s)
        push = abs(230 * sqrt(2) * sin(2 * pi * 50 * n * h)) - 1.6 - u_c - source_ohm * i_s
        i_s = max(i_s + h * push / source_h, 0.0)
        u_c += h * (i_s - u_c / ohm) / farad
    return np.array(volts), np.array(amps)


def test_a_capacitor_behind_the_bridge_charges_and_droops_as_an_integrator_of_its_own_says() -> None:
    controls = {"jammed": 1, "supply_kind": 2, "smoothing_uf": 220, "source_ohm": 0.5, "source_h": 1e-3}
    cases, states = batch(MODEL, [(resistor(200.0), controls)])
    values = run(MODEL, cases, states, 0.06, 20_000.0, 1).values[0]
    volts, amps = charged(200.0, 220e-6, 0.5, 1e-3, 3)
    assert values[0] == pytest.approx(volts, abs=0.5)
    assert np.abs(values[3]) == pytest.approx(amps, abs=0.01 * amps.max())
    assert values[0, -400:].min() > 250
    assert rms(values[3, -400:]) / np.abs(values[3, -400:]).mean() > 2  # short pulses


def test_a_battery_sags_with_its_current_and_with_the_charge_that_it_has_given() -> None:
    controls = {"jammed": 1, "supply_kind": 1, "battery_v": 12, "battery_ohm": 0.5, "battery_sag_v_per_ah": 360}
    cases, states = batch(MODEL, [(resistor(5.5), controls)])
    values = run(MODEL, cases, states, 10.0, 1000.0).values[0]
    expected = 2.0 * np.exp(-0.1 / 6 * np.arange(10_000) / 1000)  # 0.1 V per coulomb, 6 ohm
    assert values[1, 10:] == pytest.approx(expected[10:], rel=1e-4)
    assert values[0, 10:] == pytest.approx(5.5 * values[1, 10:], abs=1e-3)


def test_direct_current_ends_in_an_arc_and_its_energy_is_lost() -> None:
    motor = Motor(MODEL, resistor(10.0, henry=0.1), FINE_HZ)
    motor.set(jammed=1, supply_kind=1, battery_v=100, supply_on=1)
    motor.advance(20_000)
    before = motor.energy
    motor.set(supply_on=0)
    i = motor.advance(2000).values[1]
    end = int(np.argmax(i == 0))
    arc_v = 20 + 1.5 * 100  # L di/dt = 100 - arc - R i
    assert end / FINE_HZ == pytest.approx(0.01 * np.log(1 + 10 * 10 / (arc_v - 100)), rel=0.01)
    assert not i[end:].any()
    after = motor.energy
    assert after.stored == 0
    assert after.lost - before.lost == pytest.approx(before.stored + after.input - before.input, rel=1e-6)


def test_a_bridge_that_is_cut_off_lets_the_current_go_on_in_its_diodes() -> None:
    motor = Motor(MODEL, resistor(10.0, henry=0.1), FINE_HZ)
    motor.set(jammed=1, supply_kind=2, supply_on=1)
    motor.advance(20_000)
    motor.set(supply_on=0)
    values = motor.advance(1000).values
    start = values[1, 0]
    times = np.arange(1000) / FINE_HZ
    assert values[1] == pytest.approx((start + 0.16) * np.exp(-times / 0.01) - 0.16, abs=1e-3 * start)
    assert values[0] == pytest.approx(-1.6)
    assert not values[3].any()


def test_polarity_exchanges_plus_and_minus_of_every_direct_supply() -> None:
    kinds = ({"supply_kind": 1}, {"supply_kind": 2}, {"supply_kind": 3}, {"supply_kind": 2, "smoothing_uf": 100})
    for kind in kinds:
        values, power = fed(10.0, [{**kind, "polarity": 1}, {**kind, "polarity": -1}], 0.05)
        assert values[1, :2] == pytest.approx(-values[0, :2])
        assert power[0] == pytest.approx(power[1])
        assert values[0, 1].mean() > 1


def test_impedance_of_the_mains_stands_in_series() -> None:
    """u = (R + R_s) i + (L + L_s) di/dt: its phasors."""
    cases, states = batch(MODEL, [(resistor(9.0, henry=0.02), {"jammed": 1, "source_ohm": 1, "source_h": 0.01})])
    values = run(MODEL, cases, states, 0.2, FINE_HZ, 1).values[0, :, -2000:]
    jw = 2j * pi * 50
    i = 230 / (10 + jw * 0.03)
    assert rms(values[1]) == pytest.approx(abs(i), rel=1e-3)
    assert rms(values[0]) == pytest.approx(abs(i * (9 + jw * 0.02)), rel=1e-3)


def test_a_rectifier_pulls_the_voltage_of_weak_mains_down_at_its_own_side() -> None:
    """Without a capacitor by R_s i all the time; with one, while its pulse of current flows."""
    rows = [{"jammed": 1, "supply_kind": 2, "source_ohm": 2, "smoothing_uf": c} for c in (0, 470)]
    cases, states = batch(MODEL, [(resistor(48.0), row) for row in rows])
    values = run(MODEL, cases, states, 0.2, FINE_HZ, 1).values[:, :, -4000:]
    ideal = 230 * sqrt(2) * np.sin(2 * pi * 50 * np.arange(4000) / FINE_HZ)
    assert values[:, 2] == pytest.approx(ideal - 2 * values[:, 3], abs=0.5)
    assert np.abs(values[:, 3]).max(-1).min() > 3


def test_flicker_swings_the_amplitude_slowly() -> None:
    cases, states = batch(MODEL, [(resistor(10.0), {"jammed": 1, "flicker_percent": 10, "flicker_hz": 5})])
    u = run(MODEL, cases, states, 0.4, 20_000.0, 1).values[0, 0]
    peaks = np.abs(u).reshape(-1, 200).max(-1) / (230 * sqrt(2))
    assert peaks.max() == pytest.approx(1.1, abs=0.005)
    assert peaks.min() == pytest.approx(0.9, abs=0.005)


def test_a_supply_switched_on_at_a_peak_starts_there() -> None:
    cases, states = batch(MODEL, [(resistor(10.0), {"jammed": 1, "switching_angle_deg": a}) for a in (0, 90, 270)])
    values = run(MODEL, cases, states, 0.01, FINE_HZ, 1).values
    assert values[:, 0, 0] == pytest.approx([0, 230 * sqrt(2), -230 * sqrt(2)], abs=1e-6)
