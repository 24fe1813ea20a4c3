"""Dead switches, a phase of higher resistance, exchanged voltage leads, a motor off its bridge.

Expected values follow from Ohm's law and from the definition of each part; the energy of every case closes.
"""

from math import inf

import numpy as np
import pytest

from simulator.motors.brushless import BENCH_MOTOR_12_V, CONTROLS, MODEL, PHASE_ORDERS, TENDER_THRUSTER
from simulator.motors.motor import Motor
from tests.simulator.motors.cases import batch, rpm, run

MASKS = {"U": 1, "V": 2, "W": 4}


def test_a_phase_of_higher_resistance_takes_its_share_of_the_voltage() -> None:
    """Sector 1 drives U to V: 12 V over the source's 0.05 ohm, 1.2 x 0.12 and 0.12 ohm; W does not count."""
    rows = [(BENCH_MOTOR_12_V, {f"phase_{x}_ohm_factor": 1.2}) for x in "uvw"]
    cases, states = batch(MODEL, rows, duty=1, jammed=1, source_limit_a=inf)
    block = run(MODEL, cases, states, 0.2)
    currents = block.values[:, 4, -1]
    assert currents[:2] == pytest.approx(12 / (0.05 + 2.2 * 0.12), rel=1e-3)
    assert currents[2] == pytest.approx(12 / (0.05 + 2 * 0.12), rel=1e-3)
    star_v = block.values[0, 1, -1] + 0.12 * currents[0]
    assert block.values[0, 2, -1] == pytest.approx(star_v, rel=1e-3)  # the idle phase shows the star point


def test_energy_closes_with_every_switch_dead_and_with_unequal_phases() -> None:
    rows: list[dict[str, float]] = [{f"{side}_switch_dead": m} for side in ("upper", "lower") for m in (1, 2, 4, 3)]
    rows += [{"phase_v_ohm_factor": 1.2}, {"phase_w_ohm_factor": 5.0, "hall_order": 3}, {"upper_switch_dead": 7}]
    for motor in (BENCH_MOTOR_12_V, TENDER_THRUSTER):
        cases, states = batch(MODEL, [(motor, row) for row in rows], duty=0.8, load_torque_n_m=0.02)
        states["speed_rad_s"] = 60.0
        run(MODEL, cases, states, 0.5)
        for k, row in enumerate(rows):
            given, lost, shaft = states[k]["energy_j"]
            went = lost + shaft + MODEL.stored_j(cases[k], states[k])
            before = 0.5 * motor.inertia_kg_m2 * 60.0**2
            assert given + before == pytest.approx(went, rel=0.005), row


@pytest.mark.parametrize("output", list(MASKS))
def test_an_output_whose_upper_switch_is_dead_gets_no_current_from_it_and_its_diodes_still_conduct(output: str) -> None:
    """Of six sectors the two that need it have no pair; started from each of the six, those two do not start."""
    rows = [(BENCH_MOTOR_12_V, {"upper_switch_dead": float(MASKS[output])})] * 6
    cases, states = batch(MODEL, rows, duty=1, source_limit_a=3)
    states["electrical_deg"] = 60.0 * np.arange(1, 7)  # the middle of sector 1, 2, ...
    block = run(MODEL, cases, states, 1.0)
    stands = np.abs(rpm(block.speed_rad_s[:, -2_000:])) < 20
    plus = "UUVVWW"  # by sector, forward (public course notes on six-step commutation)
    assert stands.tolist() == [plus[sector] == output for sector in range(6)]
    at = "UVW".index(output)
    volts, amperes = block.values[~stands, at], block.values[~stands][:, [4, 5, 7][at]]
    assert np.max(amperes) > 0.5  # while it freewheels, from DC minus and never from DC plus
    assert np.max(volts[amperes > 1e-6]) < 0.01


def test_a_dead_lower_switch_is_the_mirror_of_a_dead_upper_one() -> None:
    rows = [(BENCH_MOTOR_12_V, {"upper_switch_dead": 1.0}), (BENCH_MOTOR_12_V, {"lower_switch_dead": 1.0})]
    cases, states = batch(MODEL, rows, duty=1, source_limit_a=3)
    states["electrical_deg"] = [180.0, 360.0]  # each in the middle of a sector that has its pair, half a turn apart
    block = run(MODEL, cases, states, 1.5)
    speeds = rpm(block.speed_rad_s[:, -8_000:])
    assert speeds[0] > 500
    assert speeds[1] == pytest.approx(speeds[0], rel=0.01)
    assert np.mean(block.values[0, 4, -8_000:]) == pytest.approx(-np.mean(block.values[1, 4, -8_000:]), rel=0.02)


@pytest.mark.parametrize("word", PHASE_ORDERS)
def test_voltage_leads_show_the_outputs_that_they_are_on(word: str) -> None:
    right, moved = Motor(MODEL), Motor(MODEL)
    lead_order = next(control for control in CONTROLS if control.name == "lead_order")
    for motor, order in ((right, "UVW"), (moved, word)):
        motor.set(turned_by_hand=1, hand_rpm=100, phase_order=3, bridge_off=1, lead_order=lead_order.of(order))
    told, seen = right.advance(2_000).values, moved.advance(2_000).values
    for lead, output in enumerate(word):
        assert np.array_equal(seen[lead], told["UVW".index(output)])
    assert np.array_equal(seen[3:], told[3:])


def test_off_the_bridge_the_leads_show_the_whole_back_emf_and_no_current_flows() -> None:
    """On an empty link the diodes would clip it and charge the link."""
    on, off = Motor(MODEL, BENCH_MOTOR_12_V), Motor(MODEL, BENCH_MOTOR_12_V)
    for motor, bridge_off in ((on, 0), (off, 1)):
        motor.set(turned_by_hand=1, hand_rpm=150, bridge_off=bridge_off)
    clipped, whole = on.advance(8_000), off.advance(8_000)
    flat_top_v = 2 * 0.0475 * 150 * np.pi / 30
    assert np.max(np.ptp(whole.values[:3, 4_000:], axis=0)) == pytest.approx(flat_top_v, rel=1e-3)
    assert np.mean(whole.values[:3], axis=0) == pytest.approx(0.0, abs=1e-9)
    assert not np.any(whole.values[4:8])
    assert not np.any(whole.values[3])
    assert np.max(clipped.values[3]) > 0.5 * flat_top_v
    energy = off.energy
    assert energy.input == pytest.approx(energy.lost + energy.shaft + energy.stored, abs=1e-6)


def test_taken_off_the_bridge_in_the_run_it_coasts_and_the_energy_of_its_coils_is_counted() -> None:
    motor = Motor(MODEL, BENCH_MOTOR_12_V)
    motor.set(supply_on=1, duty=1, load_torque_n_m=0.05)
    motor.advance(8_000)
    motor.set(bridge_off=1)
    trace = motor.advance(3_000)
    assert not np.any(trace.values[[4, 5, 7]])
    assert 0 < trace.speed_rad_s[-1] < trace.speed_rad_s[0]
    energy = motor.energy
    assert energy.input == pytest.approx(energy.lost + energy.shaft + energy.stored, rel=0.005)
