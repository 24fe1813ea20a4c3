"""Single-phase motors through starts, faults and stalls: where the energy goes, and what half the step changes."""

from collections.abc import Mapping
from typing import Any

import numpy as np
import pytest

from simulator.motors import capacitor_start, permanent_split_capacitor, shaded_pole, split_phase
from simulator.motors.capacitor_start import AIR_COMPRESSOR_START_RUN
from simulator.motors.motor import Model
from simulator.motors.permanent_split_capacitor import CABIN_VENTILATOR
from simulator.motors.shaded_pole import GALLEY_EXTRACTOR
from simulator.motors.single_phase import RUN, START
from simulator.motors.single_phase_motor import Parameters
from simulator.motors.split_phase import BENCH_GRINDER
from tests.simulator.motors.cases import batch, rms, run

PSC = permanent_split_capacitor.MODEL

EVENTS: tuple[tuple[Model, Parameters, tuple[Mapping[str, float], ...]], ...] = (
    (PSC, CABIN_VENTILATOR, (
        {"run_capacitor_open": 1}, {"run_capacitor_open": 0}, {"supply_on": 0}, {"supply_on": 1},
        {"run_capacitor_shorted": 1}, {"run_capacitor_shorted": 0}, {"jammed": 1}, {"jammed": 0, "load_factor": 3},
        {"auxiliary_open": 1, "supply_on": 0})),
    (split_phase.MODEL, BENCH_GRINDER, (
        {"load_torque_n_m": 0.8}, {"switch_stuck_closed": 1}, {"switch_stuck_closed": 0},
        {"source_ohm": 1, "source_h": 0.02}, {"source_h": 0.002},
        {"mains_v": 207}, {"load_friction_n_m_s": 0.002}, {"supply_on": 0})),
    (capacitor_start.MODEL, AIR_COMPRESSOR_START_RUN, (
        {"load_torque_n_m": 6.1, "load_pulsation": 0.6}, {"jammed": 1}, {"jammed": 0}, {"push_n_m": -3},
        {"push_n_m": 0, "run_capacitor_open": 1}, {"run_capacitor_open": 0, "start_capacitor_open": 1},
        {"supply_on": 0})),
    (shaded_pole.MODEL, GALLEY_EXTRACTOR, (
        {"harmonic_3_percent": 10}, {"jammed": 1}, {"jammed": 0}, {"turned_by_hand": 1, "hand_rpm": 300},
        {"turned_by_hand": 0}, {"supply_on": 0})),
)  # fmt: skip


@pytest.mark.parametrize("events", EVENTS)
@pytest.mark.parametrize("more", [{}, {"start_device": 2.0}, {"start_device": 3.0}, {"switch_worn": 1.0}])
def test_what_the_supply_gives_is_lost_or_leaves_by_the_shaft_or_is_stored_through_starts_faults_and_stalls(
    events: tuple[Model, Parameters, tuple[Mapping[str, float], ...]], more: Mapping[str, float]
) -> None:
    model, motor, changes = events
    more = more if motor.start is not None else {}
    now: dict[str, float] = {**more}
    states: Any = None
    for change in ({}, *changes):
        now.update(change)
        cases, fresh = batch(model, [(motor, now)])
        states = fresh if states is None else states
        before = states["energy_j"][0].copy(), model.stored_j(cases[0], states[0])
        run(model, cases, states, 0.413)
        given, lost, shaft = states["energy_j"][0] - before[0]
        stored = model.stored_j(cases[0], states[0])
        turned_over = abs(given) + abs(lost) + abs(shaft)
        assert turned_over > 0
        total = states["energy_j"][0]
        assert total[0] - total[1] - total[2] == pytest.approx(stored, abs=0.005 * total[0]), change
        assert given - lost - shaft == pytest.approx(stored - before[1], abs=0.005 * turned_over + 0.01), change


def test_half_the_step_changes_nothing_in_four_digits_through_opening_and_closing() -> None:
    traces = []
    for steps in (1, 2):
        states: Any = None
        blocks = []
        for change in (
            {}, {"run_capacitor_open": 1}, {"run_capacitor_open": 0}, {"supply_on": 0},
            {"supply_on": 0, "run_capacitor_open": 1}, {},
        ):  # fmt: skip
            cases, fresh = batch(PSC, [(CABIN_VENTILATOR, change), (CABIN_VENTILATOR, {**change, "jammed": 1})])
            states = fresh if states is None else states
            blocks.append(run(PSC, cases, states, 0.13, rate_hz=10_000.0, steps=steps))
        values = np.concatenate([block.values for block in blocks], axis=-1)
        turning = np.concatenate([[block.speed_rad_s, block.torque_n_m] for block in blocks], axis=-1)
        traces.append(np.concatenate([values, np.moveaxis(turning, 0, 1)], axis=1))
    largest = np.max(np.abs(traces[1]), axis=(0, 2), keepdims=True)
    assert np.max(np.abs(traces[0] - traces[1]) / largest) < 1e-4


@pytest.mark.parametrize(
    ("model", "motor"),
    [
        (split_phase.MODEL, BENCH_GRINDER),
        (capacitor_start.MODEL, AIR_COMPRESSOR_START_RUN),
        (shaded_pole.MODEL, GALLEY_EXTRACTOR),
    ],
)
def test_half_the_step_changes_no_start_in_three_digits(model: Model, motor: Parameters) -> None:
    ends = []
    for steps in (1, 2, 8):
        cases, states = batch(model, [(motor, {})])
        block = run(model, cases, states, 1.5, rate_hz=10_000.0, steps=steps)
        line_a = block.values[0, 2]
        ends.append([float(rms(line_a)), float(np.max(np.abs(line_a))), float(rms(block.speed_rad_s[0]))])
    for coarse in ends[:2]:
        assert coarse == pytest.approx(ends[2], rel=1e-3)


def test_two_capacitors_of_unequal_voltage_balance_and_what_is_too_much_is_lost() -> None:
    """Charge stays; C1 C2 / (C1 + C2) U^2 / 2 is lost, whatever the resistance. Textbook, no published figure."""
    rows = {"supply_on": 0.0, "auxiliary_open": 1.0, "start_device": 0.0}
    cases, states = batch(capacitor_start.MODEL, [(AIR_COMPRESSOR_START_RUN, rows)])
    states["y"][0, 4], states["farads"] = 300, (80e-6, 16e-6)
    run(capacitor_start.MODEL, cases, states, 0.1, steps=8)
    assert states["closed"][0] == START | RUN
    assert states["y"][0, 4:] == pytest.approx(300 * 80 / 96, rel=1e-3)
    assert states["energy_j"][0, 1] == pytest.approx(0.5 * 80e-6 * 16e-6 / 96e-6 * 300**2, rel=0.02)
