"""The two-axis equations in time against their solution in complex numbers, which is written anew (induction.py)."""

from collections.abc import Mapping
from dataclasses import replace
from math import pi

import numpy as np
import pytest

from simulator.motors import capacitor_start, permanent_split_capacitor, shaded_pole, split_phase
from simulator.motors.capacitor_start import AIR_COMPRESSOR_START_RUN
from simulator.motors.motor import Model, Motor
from simulator.motors.permanent_split_capacitor import CABIN_VENTILATOR
from simulator.motors.shaded_pole import GALLEY_EXTRACTOR
from simulator.motors.single_phase import AUXILIARY, LINE, RUN, circuit, parted
from simulator.motors.single_phase_motor import Parameters
from simulator.motors.split_phase import BENCH_GRINDER
from tests.simulator.motors.cases import batch, rms, run
from tests.simulator.motors.induction import START_CLOSED, phasor, phasors, series

CYCLE = 400  # samples at 20 kS/s and 50 Hz
PSC = permanent_split_capacitor.MODEL


SPEEDS = (-100.0, 0.0, 75.0, 140.0, 150.0, 157.0, 200.0)
PARALLEL = 1 / (1 / series(80e-6, 2) + 1 / series(16e-6, 1))
SOURCE = 20 + 2j * pi * 50 * 0.05
FED: tuple[tuple[Model, Parameters, Mapping[str, float], complex, complex], ...] = (
    (PSC, CABIN_VENTILATOR, {}, series(4e-6, 5), 0),
    (PSC, CABIN_VENTILATOR, {"run_capacitor_uf": 2.8}, series(2.8e-6, 5), 0),
    (PSC, CABIN_VENTILATOR, {"run_capacitor_uf": 12}, series(12e-6, 5), 0),
    (PSC, CABIN_VENTILATOR, {"run_capacitor_shorted": 1}, 0.01, 0),
    (PSC, CABIN_VENTILATOR, {"source_ohm": 20, "source_h": 0.05}, series(4e-6, 5), SOURCE),
    (split_phase.MODEL, BENCH_GRINDER, {"start_device": 0}, 0, 0),
    (capacitor_start.MODEL, AIR_COMPRESSOR_START_RUN, {"start_device": 0}, PARALLEL, 0),
    (shaded_pole.MODEL, GALLEY_EXTRACTOR, {}, 0, 0),
    (shaded_pole.MODEL, GALLEY_EXTRACTOR, {"source_ohm": 20, "source_h": 0.05}, 0, SOURCE),
)


@pytest.mark.parametrize("fed", FED)
def test_currents_torque_and_power_at_any_speed_are_those_of_the_complex_equations(
    fed: tuple[Model, Parameters, Mapping[str, float], complex, complex],
) -> None:
    model, motor, controls, behind, source = fed
    cases, states = batch(model, [(motor, controls)] * len(SPEEDS))
    states["speed_rad_s"], cases["load"]["inertia_kg_m2"] = SPEEDS, 1e12  # nothing can change them
    block = run(model, cases, states, 3.2, steps=2)
    torque = block.torque_n_m[:, -10 * CYCLE :]
    terminal_v, _, line_a, auxiliary_a = np.moveaxis(block.values[:, :, -10 * CYCLE :], 1, 0)
    line_a = line_a - terminal_v / motor.core_ohm
    main_a = line_a - cases["sign"][:, None] * auxiliary_a
    u = 230 * np.sqrt(2) * np.sin(2 * pi * 50 * np.arange(10 * CYCLE) / 20_000)
    for k, w in enumerate(SPEEDS):
        Im, Ix, mean, pulsation, power = phasors(motor, w, behind, source)
        assert rms(main_a[k]) == pytest.approx(abs(Im), rel=1e-4)
        assert rms(auxiliary_a[k]) == pytest.approx(abs(Ix), rel=1e-4)
        assert np.mean(torque[k]) == pytest.approx(mean, rel=2e-4, abs=1e-5)
        assert np.ptp(torque[k]) / 2 == pytest.approx(pulsation, rel=2e-3, abs=1e-4)
        assert np.mean(u * line_a[k]) == pytest.approx(power, rel=2e-4)
        line = Im if motor.ring else Im + Ix
        assert rms(terminal_v[k]) == pytest.approx(abs(230 - source * line), rel=1e-4)


def test_a_leading_auxiliary_with_its_leads_swapped_turns_the_torque_round() -> None:
    cases, states = batch(PSC, [(CABIN_VENTILATOR, {"auxiliary_reversed": r, "jammed": 1.0}) for r in (0.0, 1.0)])
    torque = run(PSC, cases, states, 1.0).torque_n_m[:, -10 * CYCLE :].mean(axis=1)
    assert torque[1] == pytest.approx(-torque[0], rel=1e-5)
    assert torque[0] > 0.2


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
        CABIN_VENTILATOR,
        main_ohm=2.5,
        rotor_ohm=3.75,
        main_leakage_h=1.25 / w1,
        rotor_leakage_h=1.25 / w1,
        magnetizing_h=65 / w1,
        core_ohm=1e12,  # the book takes its 25 W from the shaft
        mains_v=120,
        mains_hz=60,
    )
    cases, states = batch(PSC, [(book, {"run_capacitor_open": 1})])
    states["speed_rad_s"], cases["load"]["inertia_kg_m2"] = w, 1e12
    block = run(PSC, cases, states, 2.0, rate_hz=24_000.0)
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


@pytest.mark.parametrize("closed", [LINE | AUXILIARY | RUN, LINE | AUXILIARY, AUXILIARY | RUN, AUXILIARY])
def test_a_contact_that_parts_keeps_the_linkages_of_every_circuit_that_stays_closed(closed: int) -> None:
    cases, states = batch(PSC, [(CABIN_VENTILATOR, {})])
    z = circuit(cases[0], states[0], closed, 0.0, 1e-4)
    L, before = np.array([[z.L_mm, z.L_mx], [z.L_mx, z.L_xx]]), np.array([0.7, -0.2])
    after = parted(z, (0.7, -0.2, 0.4, 0.9, 10.0, 20.0))
    assert after[2:] == (0.4, 0.9, 10.0, 20.0)
    linked_before, linked_after = L @ before, L @ after[:2]
    if closed == LINE | AUXILIARY | RUN:
        assert after[:2] == pytest.approx(before)
    elif closed == LINE | AUXILIARY:
        assert after[1] == 0
        assert linked_after[0] == pytest.approx(linked_before[0])
    elif closed == AUXILIARY | RUN:
        assert after[1] == pytest.approx(-after[0])
        assert linked_after[0] - linked_after[1] == pytest.approx(linked_before[0] - linked_before[1])
    else:
        assert after[:2] == (0, 0)


def test_what_is_left_of_the_inductances_is_the_complement_of_the_full_matrix() -> None:
    """L_ss - L_sr Lr^-1 L_rs, from the four by four matrix of the equations."""
    m = GALLEY_EXTRACTOR
    c, s, LM = np.cos(m.auxiliary_angle_rad), np.sin(m.auxiliary_angle_rad), m.magnetizing_h
    L = np.array(
        [
            [m.main_leakage_h + LM, c * LM, LM, 0],
            [c * LM, m.auxiliary_leakage_h + LM, c * LM, s * LM],
            [LM, c * LM, m.rotor_leakage_h + LM, 0],
            [0, s * LM, 0, m.rotor_leakage_h + LM],
        ]
    )
    left = L[:2, :2] - L[:2, 2:] @ np.linalg.inv(L[2:, 2:]) @ L[2:, :2]
    case = batch(shaded_pole.MODEL, [(m, {})])[0][0]
    assert case["stator_h"] == pytest.approx([left[0, 0], left[0, 1], left[1, 1]])


@pytest.mark.parametrize(("controls", "contact"), [({"run_capacitor_open": 1.0}, RUN), ({"supply_on": 0.0}, LINE)])
def test_a_contact_opens_at_the_next_zero_of_its_current_and_not_before(
    controls: Mapping[str, float], contact: int
) -> None:
    cases, states = batch(PSC, [(CABIN_VENTILATOR, {})])
    run(PSC, cases, states, 0.3)
    cases, _ = batch(PSC, [(CABIN_VENTILATOR, controls)])
    carried = []
    for _ in range(CYCLE):
        i_m, i_x = states["y"][0, :2]
        carried.append(i_x if contact == RUN else i_m + i_x)
        run(PSC, cases, states, 1 / 20_000, steps=1)
        if not states["closed"][0] & contact:
            break
    assert 2 < len(carried) <= CYCLE / 2
    assert np.all(np.sign(carried) == np.sign(carried[0]))
    assert abs(carried[-1]) < 0.02  # A: one step of 50 us before its zero
    i_m, i_x = states["y"][0, :2]
    assert (i_x if contact == RUN else i_m + i_x) == pytest.approx(0, abs=1e-12)


def test_a_contact_that_was_stuck_or_is_no_switch_works_as_it_should_again() -> None:
    motor = Motor(split_phase.MODEL)
    motor.set(supply_on=1, start_device=0, switch_stuck_open=1)  # nothing is fitted that could stick
    assert motor.advance(2_000).truths[START_CLOSED].all()
    motor.set(start_device=1)
    assert motor.advance(2_000).truths[START_CLOSED, -1] == 0
    motor.set(switch_stuck_open=0)
    assert motor.advance(2_000).truths[START_CLOSED, -1] == 1


def test_harmonics_of_the_supply_drive_what_the_leakage_lets_through() -> None:
    """The project's own reference tables: I_h = U_h / (h X_leak), about, at standstill."""
    cases, states = batch(PSC, [(CABIN_VENTILATOR, {"jammed": 1, "run_capacitor_open": 1, "harmonic_7_percent": 10})])
    line_a = run(PSC, cases, states, 1.0, steps=2).values[0, 2, -10 * CYCLE :]
    leak_h = 0.1 + 0.1 * 1.74 / 1.84
    at_7 = abs(23 / (102 + 72 * (1.74 / 1.84) ** 2 + 2j * pi * 350 * leak_h) + 23 / 9000)
    assert abs(phasor(line_a, 350, 20_000)) == pytest.approx(at_7, rel=0.02)
