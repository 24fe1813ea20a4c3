"""The series motor against the project's own reference table, printed examples and common facts of the trade.

The figures of the table were computed independently of this model, without ripple. 2 % for steady values, 5 % for
times, 10 % for peaks.
"""

from collections.abc import Mapping
from dataclasses import replace
from math import pi

import numpy as np
import pytest

from simulator.motors.commutator import Parameters
from simulator.motors.motor import Motor
from simulator.motors.series_dc import ANCHOR_WINDLASS, MODEL
from tests.simulator.motors.cases import batch, rpm, run

RATE_HZ = 20_000.0
PLAIN = replace(ANCHOR_WINDLASS, contact_ripple=0.0, emf_ripple=0.0)
# controls: speed_rpm, I, P, T_air, P_out, i_peak, t95
Row = tuple[Mapping[str, float], tuple[float | None, ...]]
LOADED: tuple[Row, ...] = (
    ({"load_torque_n_m": 5.35}, (1986, 59.68, 1432, 5.606, 1112, 367.4, 0.5737)),
    ({"load_torque_n_m": 10}, (1523, 90.62, 2175, 10.25, 1595, 373.3, 0.2801)),
    ({"load_torque_n_m": 5.35, "battery_ohm": 0.012}, (1913, 59.67, 1432, 5.606, 1072, 313.2, 0.6223)),
    ({"load_torque_n_m": 5.35, "jammed": 1}, (0, 466.7, 11200, 77.54, 0, 466.7, None)),
    ({"load_torque_n_m": 5.35, "polarity": -1}, (1986, -59.68, 1432, 5.606, 1112, 367.4, 0.5737)),
)
LIGHT: tuple[Row, ...] = (
    ({"load_torque_n_m": 0.5}, (4689, 17.92, 430.1, 0.7862, 245.5, 361.3, 9.312)),
    ({"load_torque_n_m": 0}, (6920, 11.13, 267.2, 0.336, 0, 360.6, 28.24)),
)


def linear(ohm: float, v_s_a: float, dry_n_m: float = 0.0, inertia: float = 1.0) -> Parameters:
    """A series motor whose flux follows its current, without brush drop."""
    return replace(
        PLAIN, winding_ohm=ohm, winding_h=0.01, field_v_s=v_s_a * 1e9, saturation_a=1e9, residual_v_s=0.0,
        brush_v=0.0, inertia_kg_m2=inertia, dry_n_m=dry_n_m, own_fan_n_m_s2=0.0,
    )  # fmt: skip


@pytest.mark.parametrize(("rows", "seconds"), [(LOADED, 10.0), (LIGHT, 60.0)])
def test_every_row_of_the_reference_table(rows: tuple[Row, ...], seconds: float) -> None:
    cases, states = batch(MODEL, [(PLAIN, controls) for controls, _ in rows])
    rate_hz = 4000.0  # samples; steps are as short as ever
    block = run(MODEL, cases, states, seconds, rate_hz)
    for k, (controls, (speed, amps, watts, torque, out_w, peak, t95)) in enumerate(rows):
        late, i, w = slice(-800, None), block.values[k, 1], block.speed_rad_s[k]
        n = w * 30 / pi
        assert n[late].mean() == pytest.approx(speed, rel=0.02, abs=20 if speed == 0 else 0)
        assert i[late].mean() == pytest.approx(amps, rel=0.02)
        source_v = 24 if controls.get("polarity", 1) > 0 else -24  # the table's P is at the source
        assert source_v * i[late].mean() == pytest.approx(watts, rel=0.02)
        assert block.torque_n_m[k, late].mean() == pytest.approx(torque, rel=0.02)
        assert np.mean(block.truths[k, 2, late] * w[late]) == pytest.approx(out_w, rel=0.02, abs=0.01)
        assert np.abs(i).max() == pytest.approx(peak, rel=0.1)
        if t95:
            assert np.argmax(n > 0.95 * n[-1]) / rate_hz == pytest.approx(t95, rel=0.05)


def test_a_source_of_12_milliohm_sags_at_the_motor() -> None:
    cases, states = batch(MODEL, [(PLAIN, {"load_torque_n_m": 5.35, "battery_ohm": 0.012})])
    block = run(MODEL, cases, states, 3.0)
    assert block.values[0, 0] == pytest.approx(24 - 0.012 * block.values[0, 1], abs=1e-9)
    assert block.values[0, 0].min() == pytest.approx(24 - 0.012 * 313.2, rel=0.01)


def test_printed_example_of_current_and_efficiency() -> None:
    """Guru, Hiziroglu, Electric Machinery and Transformers, 3rd ed., example 6.1 (p. 360), in a companion to the book.

    50 A, 67.82 %: 10 hp at 1200 r/min with 1040 W of rotation, 220 V behind 0.75 and 0.25 ohm.
    """
    w = 1200 * pi / 30
    motor = linear(0.75 + 0.25, (220 - 50) / w / 50, dry_n_m=1040 / w)
    cases, states = batch(MODEL, [(motor, {"battery_v": 220, "load_torque_n_m": 7460 / w})])
    block = run(MODEL, cases, states, 20.0, 1000.0)
    assert rpm(block.speed_rad_s[0, -100:]) == pytest.approx(1200, abs=0.1)
    assert block.values[0, 1, -1] == pytest.approx(50, abs=0.5)
    out_w = block.truths[0, 2, -1] * block.speed_rad_s[0, -1]
    assert 100 * out_w / (block.values[0, 0, -1] * block.values[0, 1, -1]) == pytest.approx(67.82, abs=0.01)


def test_printed_example_of_twice_the_torque_on_an_ideal_motor() -> None:
    """Hambley, Electrical Engineering, 5th ed., example 16.5 (p. 723), in a companion: 1200 r/min at 12 N.m become
    848.53 at 24 N.m, 1507.96 W become 2132.58.
    """
    v_s_a = (100 / (1200 * pi / 30)) ** 2 / 12  # 100 V; T = k i i, u = k i w
    motor = linear(1e-9, v_s_a)
    cases, states = batch(MODEL, [(motor, {"battery_v": 100, "load_torque_n_m": T}) for T in (12, 24)])
    block = run(MODEL, cases, states, 60.0, 500.0)
    w = block.speed_rad_s[:, -1]
    assert w * 30 / pi == pytest.approx([1200, 848.53], abs=0.005)
    assert block.truths[:, 2, -1] * w == pytest.approx([1507.96, 2132.58], abs=0.02)


def test_printed_example_of_a_fan_slowed_by_a_resistor() -> None:
    """Sen, Principles of Electric Machines and Power Electronics, example 4.9 (p. 180), in a companion: 1.94 hp.

    At 200 r/min; 220 V, 25 A at 300 r/min, 0.6 and 0.4 ohm. 7 ohm more (from the equations) bring it there.
    """
    w = 300 * pi / 30
    fan = (220 - 25) * 25 / w / w**2
    motor = replace(linear(1.0, (220 - 25) / w / 25), fan_n_m_s2=fan)
    rows = [(motor, {"battery_v": 220, "lead_ohm": ohm, "load_torque_n_m": 0}) for ohm in (0, 7)]
    cases, states = batch(MODEL, rows)
    block = run(MODEL, cases, states, 20.0, 1000.0)
    assert rpm(block.speed_rad_s[:, -100:]) == pytest.approx([300, 200], abs=0.1)
    assert block.values[0, 1, -1] == pytest.approx(25, abs=0.01)
    assert block.torque_n_m[1, -1] * block.speed_rad_s[1, -1] / 745.7 == pytest.approx(1.94, abs=0.005)


def test_unloaded_it_races_and_is_still_rising_after_ten_seconds() -> None:
    """Common practice, no published source: never run a series motor unloaded."""
    cases, states = batch(MODEL, [(ANCHOR_WINDLASS, {"load_torque_n_m": T}) for T in (0, 5.35)])
    block = run(MODEL, cases, states, 10.0, 4000.0)
    n = block.speed_rad_s * 30 / pi
    assert n[0, -1] > 2.4 * n[1, -1]
    assert n[0, -1] - n[0, -4000] > 100
    assert n[1, -1] - n[1, -4000] < 1


@pytest.mark.parametrize(("changes", "forward"), [({}, 1), ({"polarity": -1}, 1), ({"field_reversed": 1}, -1)])
def test_field_ends_reverse_it_and_supply_leads_do_not(changes: dict[str, float], forward: int) -> None:
    """Torque follows the square of the current: derived."""
    motor = Motor(MODEL, ANCHOR_WINDLASS, RATE_HZ)
    motor.set(supply_on=1, **changes)
    assert motor.advance(10_000).speed_rad_s[-1] * forward > 50


def test_torque_at_rest_grows_with_the_square_of_the_current_until_iron_saturates() -> None:
    cases, states = batch(MODEL, [(PLAIN, {"jammed": 1, "battery_v": u}) for u in (2.0, 2.4)])
    block = run(MODEL, cases, states, 0.5)
    i, torque = block.values[:, 1, -1], block.torque_n_m[:, -1]
    power = np.log(torque[1] / torque[0]) / np.log(i[1] / i[0])
    assert 1.7 < power < 2.0


def test_energy_given_is_lost_or_leaves_by_the_shaft_or_is_stored() -> None:
    """Through a start, a load, a polarity exchanged in the run, a cut, the mains half wave and a stall."""
    changes = (
        {"load_torque_n_m": 2}, {"load_torque_n_m": 10}, {"polarity": -1}, {"supply_on": 0},
        {"supply_on": 1, "supply_kind": 3, "source_ohm": 0.01, "source_h": 1e-4}, {"jammed": 1},
    )  # fmt: skip
    motor = Motor(MODEL, ANCHOR_WINDLASS, RATE_HZ)
    motor.set(supply_on=1)
    for change in changes:
        motor.set(**change)
        motor.advance(8000)
        energy = motor.energy
        assert energy.input == pytest.approx(energy.lost + energy.shaft + energy.stored, rel=0.005)
    assert energy.lost > 100


def test_half_the_step_changes_less_than_the_digits_of_the_table() -> None:
    figures = []
    for steps in (1, 4):
        cases, states = batch(MODEL, [(PLAIN, controls) for controls, _ in LOADED])
        block = run(MODEL, cases, states, 1.5, steps=steps)
        peak_a = np.abs(block.values[:, 1]).max(-1)
        figures.append((block.speed_rad_s[:, 2000::100], peak_a, block.torque_n_m[:, 2000::100]))
    for coarse, fine in zip(*figures, strict=True):
        assert coarse == pytest.approx(fine, rel=1e-3, abs=0.02)


def test_ripple_has_92_waves_a_turn() -> None:
    """lcm of 23 bars and 4 poles: from memory."""
    cases, states = batch(MODEL, [(ANCHOR_WINDLASS, {"load_torque_n_m": 40})])
    block = run(MODEL, cases, states, 2.0)
    i, w = block.values[0, 1, -8000:], float(block.speed_rad_s[0, -8000:].mean())
    spectrum = np.abs(np.fft.rfft((i - i.mean()) * np.hanning(i.size), 8 * i.size))
    strongest = np.argmax(spectrum[800:]) + 800
    assert strongest * RATE_HZ / (8 * i.size) / (w / 2 / pi) == pytest.approx(92, rel=0.01)
