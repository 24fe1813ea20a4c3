"""The shunt motor against the project's own reference table, printed examples and common facts of the trade.

The figures of the table were computed independently of this model, without ripple. 2 % for steady values, 5 % for
times, 10 % for peaks.
"""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from math import pi
from typing import Any

import numpy as np
import pytest

from simulator.motors.motor import Motor
from simulator.motors.shunt_dc import LATHE, MODEL
from simulator.motors.wound_field import Parameters
from tests.simulator.motors.cases import batch, rpm, run

RATE_HZ = 20_000.0
PLAIN = replace(LATHE, contact_ripple=0.0, emf_ripple=0.0)
SEPARATE = {"field_separate": 1.0, "load_torque_n_m": 0.0}
START_RAD_S = 180.0
# controls, start speed: speed_rpm, I_a, I_f, I_line, T_air, P_out, i_a_peak, n_max, t95
Row = tuple[Mapping[str, float], float, tuple[float | None, ...]]
TABLE: tuple[Row, ...] = (
    ({"load_torque_n_m": 3.78}, START_RAD_S, (1750, 4.505, 0.5, 5.005, 4.022, 692.6, 5.448, 1750, None)),
    ({}, START_RAD_S, (1894, 0.2791, 0.5, 0.7791, 0.2492, 0, 4.746, 1894, None)),
    ({"load_torque_n_m": 5}, START_RAD_S, (1703, 5.868, 0.5, 6.368, 5.239, 891.7, 5.868, 1719, None)),
    (
        {"load_torque_n_m": 3.78, "battery_v": 160, "field_supply_v": 160},
        START_RAD_S,
        (1611, 4.74, 0.4444, 5.185, 4.014, 637.5, 4.74, 1719, None),
    ),
    (
        {"load_torque_n_m": 2, "field_supply_v": 140},
        START_RAD_S,
        (2030, 2.84, 0.3889, 3.229, 2.256, 425.2, 10.05, 2030, None),
    ),
    ({"load_torque_n_m": 3.78}, 0.0, (1750, 4.505, 0.5, 5.005, 4.022, 692.6, 48.99, 1750, 0.3442)),
)


def established(motor: Parameters, rows: Sequence[tuple[Mapping[str, float], float]]) -> tuple[Any, Any]:
    """Cases with the field's current as its supply holds it, at their start speeds."""
    cases, states = batch(MODEL, [(motor, controls) for controls, _ in rows], **SEPARATE)
    states["field_a"] = cases["field_v"] / cases["field_ohm"]
    states["speed_rad_s"] = [w for _, w in rows]
    return cases, states


def test_every_row_of_the_reference_table() -> None:
    rate_hz = 4000.0
    cases, states = established(PLAIN, [(controls, w) for controls, w, _ in TABLE])
    block = run(MODEL, cases, states, 5.0, rate_hz)
    for k, (_, _, (speed, ia, jf, line, torque, out_w, peak, highest, t95)) in enumerate(TABLE):
        late, v, n = slice(-800, None), block.values[k], block.speed_rad_s[k] * 30 / pi
        assert n[late].mean() == pytest.approx(speed, rel=0.02)
        assert v[1, late].mean() == pytest.approx(ia, rel=0.02)
        assert v[3, late].mean() == pytest.approx(jf, rel=0.02)
        assert (v[1] + v[3])[late].mean() == pytest.approx(line, rel=0.02)
        assert block.torque_n_m[k, late].mean() == pytest.approx(torque, rel=0.02)
        assert np.mean(block.truths[k, 2, late] * block.speed_rad_s[k, late]) == pytest.approx(
            out_w, rel=0.02, abs=0.01
        )
        assert np.abs(v[1]).max() == pytest.approx(peak, rel=0.1)
        assert n.max() == pytest.approx(highest, rel=0.02)
        if t95:
            assert np.argmax(n > 0.95 * n[-1]) / rate_hz == pytest.approx(t95, rel=0.05)


def test_an_open_field_runs_away_without_load_and_stalls_with_it() -> None:
    """Rows *field open*: unloaded at 3 s, still accelerating; loaded at 4 s. The break is at 1 s."""
    cases, states = established(PLAIN, [({}, START_RAD_S), ({"load_torque_n_m": 3.78}, START_RAD_S)])
    begin = run(MODEL, cases, states, 1.0)
    cases["field_closed"] = 0
    block = run(MODEL, cases, states, 3.0, first=20_000)
    light, loaded = block.speed_rad_s * 30 / pi
    at_3_s = 40_000
    assert light[at_3_s - 8000 : at_3_s].mean() == pytest.approx(2414, rel=0.02)
    assert light[at_3_s - 1] == pytest.approx(2466, rel=0.02)
    assert light[at_3_s] > light[at_3_s - 4000] + 30
    i = block.values[:, 1]
    assert i[0, at_3_s - 8000 : at_3_s].mean() == pytest.approx(54.05, rel=0.02)
    assert i[0, :at_3_s].max() == pytest.approx(54.33, rel=0.1)
    assert abs(loaded[-4000:].mean()) < 20
    assert i[1, -4000:].mean() == pytest.approx(55.62, rel=0.02)
    assert block.torque_n_m[:, at_3_s - 8000].tolist() == pytest.approx([1.081, 1.113], rel=0.02)
    assert max(begin.speed_rad_s[1].max() * 30 / pi, loaded.max()) == pytest.approx(1772, rel=0.02)
    normal = begin.values[1, 1, -1]
    assert i[1, 2000] > 11 * normal  # within 0.1 s
    assert np.abs(block.values[:, 3, 1000]).max() < 0.5 * 0.01


def fixed_flux(k_v_s: float, ohm: float, field_ohm: float, volts: float, dry_n_m: float = 0.0) -> Parameters:
    """A machine whose flux is in proportion to its field's current, k at `volts` on its field; without brush drop."""
    field_a = volts / field_ohm
    return replace(
        PLAIN, armature_ohm=ohm, armature_h=0.01, field_ohm=field_ohm, field_h=field_ohm / 20, saturation_a=1e9,
        flux_v_s=k_v_s / field_a * 1e9, residual_v_s=0.0, brush_v=0.0, dry_n_m=dry_n_m, viscous_n_m_s=0.0,
        inertia_kg_m2=0.05,
    )  # fmt: skip


def test_printed_example_of_a_rheostat_in_the_armature() -> None:
    """Guru, Hiziroglu, Electric Machinery and Transformers, 3rd ed., example 6.4 (p. 374), in a companion.

    120 V, 2400 r/min at 14.75 A in the line, 0.4 and 160 ohm; 3.6 ohm more: 1343 r/min, 705.6 W in the rheostat.
    """
    ia = 14.75 - 120 / 160
    k = (120 - 0.4 * ia) / (2400 * pi / 30)
    motor = fixed_flux(k, 0.4, 160, 120)
    rows = [(motor, {"starter_ohm": ohm, "battery_v": 120, "load_torque_n_m": k * ia}) for ohm in (0, 3.6)]
    cases, states = batch(MODEL, rows)
    block = run(MODEL, cases, states, 20.0, 1000.0)
    assert rpm(block.speed_rad_s[:, -100:]) == pytest.approx([2400, 1343], abs=1)
    assert (block.values[0, 1] + block.values[0, 3])[-1] == pytest.approx(14.75, abs=0.01)
    assert 3.6 * block.values[1, 1, -1] ** 2 == pytest.approx(705.6, abs=0.1)


def test_printed_example_of_a_weakened_field() -> None:
    """Del Toro, Electrical Engineering Fundamentals, 2nd ed., example 20-3 (p. 771), in a companion: 1414.54 r/min.

    230 V, 73 A, 0.188 ohm, 1150 r/min; flux to 0.8 at the same torque.
    """
    k = (230 - 73 * 0.188) / (1150 * pi / 30)
    motor = fixed_flux(k, 0.188, 100, 230)
    rows = [(motor, {"battery_v": 230, "field_rheostat_ohm": ohm, "load_torque_n_m": k * 73}) for ohm in (0, 25)]
    cases, states = batch(MODEL, rows)
    states["speed_rad_s"] = 120.0
    block = run(MODEL, cases, states, 20.0, 1000.0)
    # the example rounds the first counter voltage to 216.3 V
    assert rpm(block.speed_rad_s[:, -100:]) == pytest.approx([1150, 1414.54], rel=3e-4)


def test_printed_example_of_a_machine_from_its_magnetisation() -> None:
    """Hambley, Electrical Engineering, 5th ed., example 16.3 (p. 721), in a companion.

    145 V at 1200 r/min with 2.5 A in a field of 50 ohm; 30 A through 0.3 ohm at 800 r/min: 125 V, 105.67 V,
    34.62 N.m, 2900 W.
    """
    motor = fixed_flux(145 / (1200 * pi / 30), 0.3, 50, 125)
    controls = {"battery_v": 105.6667, "field_separate": 1, "field_supply_v": 125, "load_torque_n_m": 34.616}
    cases, states = batch(MODEL, [(motor, controls)])
    block = run(MODEL, cases, states, 20.0, 1000.0)
    assert block.values[0, 3, -1] == pytest.approx(2.5, abs=1e-4)
    assert rpm(block.speed_rad_s[0, -100:]) == pytest.approx(800, abs=0.1)
    assert block.values[0, 1, -1] == pytest.approx(30, abs=0.01)
    torque = block.torque_n_m[0, -100:].mean()
    assert torque == pytest.approx(34.62, abs=0.005)
    assert torque * block.speed_rad_s[0, -1] == pytest.approx(2900, abs=0.5)


def test_printed_example_of_plugging() -> None:
    """Guru, Hiziroglu, Electric Machinery and Transformers, 3rd ed., example 6.9 (p. 391), in a companion.

    400 V, 28 A in the armature of 1 ohm at 100 rad/s; leads exchanged behind 17.38 ohm: 1.5 times the current,
    156.24 N.m, and 80.95 N.m at rest.
    """
    k = (400 - 28) / 100
    motor = replace(fixed_flux(k, 1.0, 200, 400), inertia_kg_m2=1e9)
    plugged = {"battery_v": 400, "armature_reversed": 1, "starter_ohm": 772 / 42 - 1, "load_torque_n_m": 0}
    cases, states = batch(MODEL, [(motor, plugged), (motor, {**plugged, "jammed": 1})])
    assert plugged["starter_ohm"] == pytest.approx(17.38, abs=0.005)
    states["speed_rad_s"], states["field_a"] = [100, 0], 2
    block = run(MODEL, cases, states, 0.2)
    assert block.values[0, 1, -1] == pytest.approx(1.5 * 28, abs=0.01)
    assert -block.torque_n_m[:, -1] == pytest.approx([156.24, 80.95], abs=0.005)


@pytest.mark.parametrize(
    ("changes", "forward"),
    [({}, 1), ({"polarity": -1}, 1), ({"armature_reversed": 1}, -1), ({"field_reversed": 1}, -1),
     ({"field_reversed": 1, "armature_reversed": 1}, 1)],
)  # fmt: skip
def test_leads_of_armature_or_field_reverse_it_and_those_of_the_supply_do_not(
    changes: dict[str, float], forward: int
) -> None:
    """Derived: torque is flux times armature current; without residual flux, which has a direction of its own."""
    motor = Motor(MODEL, replace(LATHE, residual_v_s=0.0), RATE_HZ)
    motor.set(supply_on=1, **changes)
    assert motor.advance(20_000).speed_rad_s[-1] * forward > 100


def test_switched_off_with_its_field_it_excites_itself_for_a_while() -> None:
    """Common practice, no published source. A field whose own supply is at zero falls with L_f / R_f = 0.25 s."""
    motor = Motor(MODEL, PLAIN, RATE_HZ)
    motor.set(supply_on=1, load_torque_n_m=0)
    motor.advance(60_000)
    motor.set(supply_on=0)
    coast = motor.advance(20_000)
    v, n = coast.values, coast.speed_rad_s
    assert v[1, 100:] == pytest.approx(-v[3, 100:])
    assert v[0, 2000] > 150
    assert v[0, 2000] / n[2000] > 0.8 * v[0, 200] / n[200]
    assert v[3, -1] > 0.2

    motor = Motor(MODEL, PLAIN, RATE_HZ)
    motor.set(field_separate=1, turned_by_hand=1, hand_rpm=500)
    motor.advance(40_000)
    motor.set(field_supply_v=0)
    decay = motor.advance(5001).values
    assert decay[3, 5000] / decay[3, 0] == pytest.approx(np.exp(-1), rel=1e-3)


def test_a_starter_limits_the_inrush() -> None:
    """Common practice, no published source: about one and a half times the rated current."""
    rows = [({"load_torque_n_m": 1, "starter_ohm": ohm}, 0.0) for ohm in (0, 25)]
    cases, states = established(LATHE, rows)
    peaks = run(MODEL, cases, states, 1.0).values[:, 1].max(-1)
    assert peaks[0] > 10 * 4.5
    assert peaks[1] < 1.5 * 4.5


def test_field_leads_do_not_matter_to_a_series_field_that_it_has_not() -> None:
    cases, states = batch(MODEL, [(LATHE, {"series_shorted": short, "series_reversed": short}) for short in (0, 1)])
    values = run(MODEL, cases, states, 0.5).values
    assert np.array_equal(values[0], values[1])


def test_rectified_mains_run_it_with_and_without_a_capacitor() -> None:
    rows = [(PLAIN, {"supply_kind": 2, "smoothing_uf": c, "load_torque_n_m": 1}) for c in (0, 470)]
    cases, states = batch(MODEL, [*rows, (PLAIN, {"supply_kind": 3, "load_torque_n_m": 1})])
    block = run(MODEL, cases, states, 4.0)
    late = slice(-4000, None)
    assert rpm(block.speed_rad_s[:2, late]).min() > 1500
    assert rpm(block.speed_rad_s[2, late]) > 500
    assert np.ptp(block.values[0, 0, late]) > 150
    assert np.ptp(block.values[1, 0, late]) < 60


def test_energy_given_is_lost_or_leaves_by_the_shaft_or_is_stored() -> None:
    """Through a start, a load, a broken field and its repair, a cut, rectified mains, a jam."""
    changes: tuple[dict[str, float], ...] = (
        {}, {"load_torque_n_m": 3.78}, {"field_connected": 0}, {"field_connected": 1}, {"supply_on": 0},
        {"supply_on": 1, "supply_kind": 2, "source_ohm": 1}, {"supply_kind": 3}, {"supply_on": 0},
        {"supply_kind": 2, "smoothing_uf": 470, "supply_on": 1}, {"jammed": 1}, {"field_separate": 1, "jammed": 0},
    )  # fmt: skip
    motor = Motor(MODEL, LATHE, RATE_HZ)
    motor.set(supply_on=1, bad_bar=1, brush_wear=0.5, lead_ohm=0.5, field_rheostat_ohm=20)
    for change in changes:
        motor.set(**change)
        motor.advance(12_000)
        energy = motor.energy
        assert energy.input == pytest.approx(energy.lost + energy.shaft + energy.stored, rel=0.005), change
    assert min(energy.input, energy.lost, energy.shaft) > 100


def test_half_the_step_changes_less_than_the_digits_of_the_table() -> None:
    figures = []
    for steps in (1, 4):
        cases, states = established(PLAIN, [(controls, w) for controls, w, _ in TABLE])
        block = run(MODEL, cases, states, 2.0, steps=steps)
        figures.append((block.speed_rad_s[:, ::100], np.abs(block.values[:, 1]).max(-1), block.values[:, 1, ::100]))
    for coarse, fine in zip(*figures, strict=True):
        assert coarse == pytest.approx(fine, rel=3e-4, abs=5e-3)


def test_ripple_has_36_waves_a_turn_and_moves_no_steady_figure() -> None:
    cases, states = batch(MODEL, [(motor, {"load_torque_n_m": 3.78}) for motor in (PLAIN, LATHE)])
    states["speed_rad_s"] = START_RAD_S
    block = run(MODEL, cases, states, 4.0)
    n, i = rpm(block.speed_rad_s[:, -20_000:]), block.values[:, 1, -20_000:]
    assert n[1] == pytest.approx(n[0], rel=1e-3)
    assert i[1].mean() == pytest.approx(i[0].mean(), rel=1e-3)
    spectrum = np.abs(np.fft.rfft((i[1] - i[1].mean()) * np.hanning(20_000)))
    assert np.argmax(spectrum[100:]) + 100 == pytest.approx(36 * n[1] / 60, abs=2)  # lines of 1 Hz
