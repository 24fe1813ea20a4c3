"""The two-axis equations in time against their solution in complex numbers, which is written here anew."""

from dataclasses import replace
from math import pi
from typing import Any

import numpy as np
import pytest

from simulator.motors.motor import initial
from simulator.motors.permanent_split_capacitor import CONTROLS, VENTILATOR, Parameters, constants
from simulator.motors.single_phase import AUXILIARY, LINE, advance
from tests.simulator.motors.cases import rms, run_ventilators, ventilators

CYCLE = 400  # samples at 20 kS/s and 50 Hz


def phasors(motor: Parameters, w: float) -> tuple[complex, complex, float, float, float]:
    """I_m, I_x, mean torque, amplitude of its pulsation, mean power into the windings, at a speed held at `w`.

    d/dt becomes j 2 pi f in the equations of both windings and both axes of the cage; peak values are RMS.
    """
    j1, we = 2j * pi * motor.mains_hz, motor.pole_pairs * w
    a, g, LM = motor.turns_ratio, motor.auxiliary_angle_rad, motor.magnetizing_h
    c, s, Lr = a * np.cos(g), a * np.sin(g), motor.rotor_leakage_h + LM
    main = motor.main_ohm + j1 * (motor.main_leakage_h + LM)
    auxiliary = motor.auxiliary_ohm + motor.capacitor_ohm + j1 * (motor.auxiliary_leakage_h + a * a * LM)
    auxiliary += 1 / (j1 * motor.capacitor_f) if motor.capacitor_f else 0
    rotor = motor.rotor_ohm + j1 * Lr
    Z = np.array(
        [
            [main, j1 * c * LM, j1 * LM, 0],
            [j1 * c * LM, auxiliary, j1 * c * LM, j1 * s * LM],
            [j1 * LM, j1 * c * LM + we * s * LM, rotor, we * Lr],
            [-we * LM, j1 * s * LM - we * c * LM, -we * Lr, rotor],
        ]
    )
    Im, Ix, Ia, Ib = np.linalg.solve(Z, np.array([motor.mains_v, motor.mains_v, 0, 0], dtype=complex))
    A, B = Im + c * Ix, s * Ix
    mean = motor.pole_pairs * LM * (Ia * np.conj(B) - Ib * np.conj(A)).real
    pulsation = motor.pole_pairs * LM * abs(Ia * B - Ib * A)
    return Im, Ix, mean, pulsation, motor.mains_v * (Im + Ix).real


def at_speed(cases: Any, states: Any, speeds: list[float]) -> None:
    """Turn the shafts at a speed that nothing can change."""
    cases["inertia_kg_m2"] = 1e12
    states["y"][:, 5] = speeds


def test_currents_torque_and_power_at_any_speed_are_those_of_the_complex_equations() -> None:
    motors = [replace(VENTILATOR, capacitor_f=farad) for farad in (4e-6, 2.8e-6, 12e-6, None)]
    rows = [(motor, w) for motor in motors for w in (-100.0, 0.0, 75.0, 140.0, 150.0, 157.0, 200.0)]
    cases, states = ventilators([(motor, {}) for motor, _ in rows])
    at_speed(cases, states, [w for _, w in rows])
    block = run_ventilators(cases, states, 1.2)
    values, torque = block.values[:, :, -10 * CYCLE :], block.torque_n_m[:, -10 * CYCLE :]
    u, auxiliary_a = values[:, 0], values[:, 3]
    main_a = values[:, 2] - auxiliary_a - u / VENTILATOR.core_ohm
    for k, (motor, w) in enumerate(rows):
        Im, Ix, mean, pulsation, power = phasors(motor, w)
        assert rms(main_a[k]) == pytest.approx(abs(Im), rel=1e-4)
        assert rms(auxiliary_a[k]) == pytest.approx(abs(Ix), rel=1e-4)
        assert np.mean(torque[k]) == pytest.approx(mean, rel=1e-4, abs=1e-5)
        assert np.ptp(torque[k]) / 2 == pytest.approx(pulsation, rel=1e-3, abs=1e-4)
        assert np.mean(u[k] * (main_a[k] + auxiliary_a[k])) == pytest.approx(power, rel=1e-4)


def revolving_field(stator: complex, Xm: float, R2: float, X2: float, slip: float) -> tuple[complex, complex, complex]:
    """Impedance of a motor with one winding, and of its forward and backward branch (half of each field)."""
    forward, backward = (0.5 / (1 / (1j * Xm) + 1 / (R2 / s + 1j * X2)) for s in (slip, 2 - slip))
    return stator + forward + backward, forward, backward


def test_one_winding_gives_the_worked_example_of_the_revolving_field() -> None:
    """Guru, Hiziroglu, Electric Machinery and Transformers, 3rd ed., examples 10.1 (p. 571) and 10.2 (p. 576).

    Torque and efficiency as printed (read in a companion to the book); the rest follows from its circuit.
    """
    n, synchronous = 1710.0, 1800.0
    slip, w = (synchronous - n) / synchronous, n * pi / 30
    assert slip == pytest.approx(0.05, abs=0.005)
    assert 0.5 * 12.5 / slip == pytest.approx(125, abs=0.5)
    assert 0.5 * 12.5 / (2 - slip) == pytest.approx(3.205, abs=0.0005)

    w1 = 2 * pi * 60
    book = replace(
        VENTILATOR,
        main_ohm=2.5,
        rotor_ohm=3.75,
        main_leakage_h=1.25 / w1,
        rotor_leakage_h=1.25 / w1,
        magnetizing_h=65 / w1,
        core_ohm=1e12,  # the book takes its 25 W from the shaft
        mains_v=120,
        mains_hz=60,
    )
    cases, states = ventilators([(book, {"capacitor_connected": 0})])
    at_speed(cases, states, [w])
    block = run_ventilators(cases, states, 2.0, rate_hz=24_000.0)
    u, line_a = block.values[0, 0, -24_000:], block.values[0, 2, -24_000:]
    power, current = float(np.mean(u * line_a)), float(rms(line_a))
    assert current == pytest.approx(4.277, abs=0.005)
    assert power / (120 * current) == pytest.approx(0.686, abs=0.0005)
    assert power == pytest.approx(352.1, abs=0.5)
    shaft_w = float(np.mean(block.torque_n_m[0, -24_000:])) * w - 25 - 2
    assert shaft_w / w == pytest.approx(1.295, abs=0.0005)
    assert 100 * shaft_w / power == pytest.approx(65.86, abs=0.005)
    Z, _, _ = revolving_field(2.5 + 1.25j, 65, 3.75, 1.25, slip)
    assert current == pytest.approx(120 / abs(Z), rel=1e-4)


def test_what_the_supply_gives_is_lost_in_resistances_or_leaves_by_the_shaft_or_is_stored() -> None:
    """Energy over a start from rest; what is stored in the fields is computed from the inductances."""
    cases, states = ventilators([(VENTILATOR, {}), (VENTILATOR, {"load_factor": 3}), (VENTILATOR, {"jammed": 1})])
    auxiliary_ohm = VENTILATOR.auxiliary_ohm + VENTILATOR.capacitor_ohm
    ohms = [VENTILATOR.main_ohm, auxiliary_ohm, VENTILATOR.rotor_ohm, VENTILATOR.rotor_ohm]
    rate_hz, supplied_w, left_w, stored = 40_000.0, [], [], []
    for sample in range(12_080):  # ends near a peak of the voltage, where fields and capacitor hold energy
        y = states["y"].copy()
        block = advance(cases, states, sample, 1, rate_hz, 1)
        u, i = block.values[:, 0, 0], y[:, :4]
        supplied_w.append(u * (i[:, 0] + i[:, 1]))
        left_w.append(i**2 @ ohms + block.torque_n_m[:, 0] * block.speed_rad_s[:, 0])
        field = 0.5 * np.einsum("ci,cij,cj->c", i, cases["inductance_h"], i)
        stored.append(field + 0.5 * 4e-6 * y[:, 4] ** 2)
    supplied, left = (np.trapezoid(np.array(power), dx=1 / rate_hz, axis=0) for power in (supplied_w, left_w))
    assert supplied.min() > 20
    assert stored[-1].min() > 0.05
    assert supplied - left == pytest.approx(stored[-1], abs=1e-3)


def test_half_the_step_changes_nothing_in_five_digits_through_opening_and_closing() -> None:
    traces = []
    for steps in (1, 2):
        cases, states = ventilators([(VENTILATOR, {}), (VENTILATOR, {"jammed": 1})])
        blocks = []
        for closed in (LINE | AUXILIARY, LINE, LINE | AUXILIARY, AUXILIARY, 0, LINE | AUXILIARY):
            cases["closed"] = closed
            blocks.append(run_ventilators(cases, states, 0.13, steps=steps))
        values = np.concatenate([block.values for block in blocks], axis=-1)
        turning = np.concatenate([[block.speed_rad_s, block.torque_n_m] for block in blocks], axis=-1)
        traces.append(np.concatenate([values, np.moveaxis(turning, 0, 1)], axis=1))
    largest = np.max(np.abs(traces[1]), axis=(0, 2), keepdims=True)
    assert np.max(np.abs(traces[0] - traces[1]) / largest) < 5e-6


@pytest.mark.parametrize("connection", range(4))
def test_a_contact_that_parts_keeps_the_flux_of_every_circuit_that_stays_closed(connection: int) -> None:
    case = constants(VENTILATOR, {**initial(CONTROLS)})[0]
    L, before = case["inductance_h"], np.array([0.7, -0.2, 0.4, 0.9])
    after = case["kept"][connection] @ before
    flux_before, flux_after = L @ before, L @ after
    assert flux_after[2:] == pytest.approx(flux_before[2:])
    if connection == LINE | AUXILIARY:
        assert after == pytest.approx(before)
    elif connection == LINE:
        assert after[1] == 0
        assert flux_after[0] == pytest.approx(flux_before[0])
    elif connection == AUXILIARY:
        assert after[1] == pytest.approx(-after[0])
        assert flux_after[0] - flux_after[1] == pytest.approx(flux_before[0] - flux_before[1])
    else:
        assert after[:2] == pytest.approx(0)


@pytest.mark.parametrize(("wanted", "opens"), [(LINE, AUXILIARY), (AUXILIARY, LINE)])
def test_a_contact_opens_at_the_next_zero_of_its_current_and_not_before(wanted: int, opens: int) -> None:
    cases, states = ventilators([(VENTILATOR, {})])
    run_ventilators(cases, states, 0.3)
    cases["closed"] = wanted
    carried = []
    for sample in range(6_000, 6_000 + CYCLE):
        i_m, i_x = states["y"][0, :2]
        carried.append(i_x if opens == AUXILIARY else i_m + i_x)
        advance(cases, states, sample, 1, 20_000.0, 1)
        if states["closed"][0] == wanted:
            break
    assert 2 < len(carried) <= CYCLE / 2
    assert np.all(np.sign(carried) == np.sign(carried[0]))
    assert abs(carried[-1]) < 0.02  # A: one step of 50 us before its zero
    i_m, i_x = states["y"][0, :2]
    assert (i_x if opens == AUXILIARY else i_m + i_x) == pytest.approx(0, abs=1e-12)
