"""Cases of Hall wiring: the quick rotor against the whole model, and classes of wirings told from a hand's turn."""

import time

import numpy as np
import pytest

from simulator.hall_cases import HALL_FAULTS, HallMotor, draw_fault, driven, hand_turn, healthy_motor
from simulator.motors.brushless import BENCH_MOTOR_12_V, MODEL, TENDER_THRUSTER, at_rest, constants
from simulator.motors.motor import advance
from simulator.motors.turned_rotor import take_place, turn_rotor
from tests.simulator.wirings import CLASSES, FRACTIONS, HALL_ORDERS, PHASE_ORDERS, torque_fraction


@pytest.mark.parametrize("direction", [1, -1])
@pytest.mark.parametrize(
    "fault",
    [
        {"hall_order": "CAB", "phase_order": "VUW", "lead_order": "WUV"},
        {"hall_inverted": "B", "hall_spacing_deg": 60, "hall_magnets_deg": 5, "hall_b_wider_deg": 15},
        {"hall_joined": "A+C", "hall_intermittent": "B", "hall_bursts_hz": 20},
        {"hall_floating": "A+C", "hall_stuck_high": "B", "phase_v_open": 1},
    ],
    ids=str,
)
def test_edges_and_voltages_are_those_of_the_whole_model_along_the_same_path(
    fault: dict[str, float | str], direction: int
) -> None:
    """A shaft that coasts on much inertia; the whole model cuts its steps at edges, the quick one goes by samples."""
    motor = HallMotor(TENDER_THRUSTER, 5)
    controls = motor.with_controls({"bridge_off": 1, **fault})
    case, state = constants(motor.parameters, controls), at_rest(motor.parameters, 5)
    case["load"]["inertia_kg_m2"], state["speed_rad_s"] = 0.01, 40.0 * direction
    quick = state.copy()
    start = take_place(case, quick, float(quick["electrical_deg"][0]), False)
    assert take_place(case, state, float(state["electrical_deg"][0]), False) == start
    whole = advance(MODEL, case, state, 0, 10_001, 20_000.0)
    path = np.degrees(whole.angle_rad[0]) * motor.parameters.pole_pairs
    volts, times, levels = np.empty((3, 10_000)), np.empty(50_000), np.empty(50_000, np.uint8)
    count = turn_rotor(case, quick, path, 20_000.0, False, volts, times, levels)
    told = whole.edge_times_s[0, : whole.edge_counts[0]]
    told = told[told < 0.5]
    assert count == told.size > 80
    assert times[:count] == pytest.approx(told, abs=1e-6)
    assert levels[:count].tolist() == whole.edge_states[0, :count].tolist()
    assert volts == pytest.approx(whole.values[0, :3, :10_000], abs=1e-2)
    assert np.sqrt(np.mean((volts - whole.values[0, :3, :10_000]) ** 2)) < 2e-3


@pytest.mark.parametrize("seed", range(2))
def test_turned_by_hand_every_healthy_motor_tells_the_class_of_each_of_the_36_wirings(seed: int) -> None:
    """Half way between two fractions there is 0.25 of room, of which the scatter takes a part."""
    motor = healthy_motor(seed)
    for row, hall in enumerate(HALL_ORDERS):
        for wiring, phase in zip(CLASSES[row].split(), PHASE_ORDERS, strict=True):
            run = hand_turn(motor, {"hall_order": hall, "phase_order": phase}, seed=seed, noise_v=0.012, step_v=0.02)
            loud = np.ptp(run.voltages_v, axis=0) > 0.06
            found = torque_fraction(run.sampled_levels()[loud], run.voltages_v[:, loud])
            assert found == pytest.approx(FRACTIONS[wiring], abs=0.12), (hall, phase)


def test_turned_backward_the_fraction_of_the_direction_turned_has_the_other_sign() -> None:
    run = hand_turn(healthy_motor(4), way="backward")
    assert torque_fraction(run.sampled_levels(), run.voltages_v) == pytest.approx(-1, abs=0.05)
    assert np.max(run.speed_rpm) == 0


def test_line_voltages_are_differences_and_a_lead_moves_with_its_order() -> None:
    right, moved = (hand_turn(healthy_motor(2), {"lead_order": order}) for order in ("UVW", "VWU"))
    assert np.array_equal(moved.voltages_v[0], right.voltages_v[1])
    assert right.line_voltages_v[1] == pytest.approx(right.voltages_v[1] - right.voltages_v[2])
    assert np.sum(right.voltages_v, axis=0) == pytest.approx(0, abs=1e-9)


def test_sampled_levels_are_those_that_the_edges_left() -> None:
    run = hand_turn(healthy_motor(3))
    levels = run.sampled_levels(1_000.0)
    assert levels.size == round(run.speed_rpm.size / 20)
    for k in (0, 700, 1_500, 2_400):
        before = np.flatnonzero(run.edge_times_s <= k / 1_000)
        assert levels[k] == (run.edge_levels[before[-1]] if before.size else run.start_levels)


def test_a_clock_rounds_edges_down_and_a_converter_its_voltages() -> None:
    motor = healthy_motor(6)
    fine, coarse = hand_turn(motor), hand_turn(motor, clock_s=50e-6, step_v=0.02)
    assert np.all(coarse.edge_times_s <= fine.edge_times_s)
    assert np.max(fine.edge_times_s - coarse.edge_times_s) < 50e-6
    assert np.max(np.abs(fine.voltages_v - coarse.voltages_v)) <= 0.01 + 1e-12


def test_one_seed_gives_the_same_motor_and_the_same_turn_and_another_seed_others() -> None:
    assert healthy_motor(8) == healthy_motor(8) != healthy_motor(9)
    once, again, other = (hand_turn(healthy_motor(8), seed=seed) for seed in (1, 1, 2))
    assert np.array_equal(once.voltages_v, again.voltages_v)
    assert not np.array_equal(once.voltages_v, other.voltages_v)


def test_healthy_motors_scatter_as_told() -> None:
    """Timing by its RMS over 400 motors, the rest of the tolerances are those of the parameters."""
    motors = [healthy_motor(seed) for seed in range(400)]
    late = np.array([motor.controls["hall_late_deg"] for motor in motors])
    assert np.sqrt(np.mean(late**2)) == pytest.approx(1.0, rel=0.12)
    assert {motor.parameters.pole_pairs for motor in motors} == set(range(2, 16))
    assert all(0.3 <= motor.parameters.hall_hysteresis_deg <= 2 for motor in motors)


@pytest.mark.parametrize("name", HALL_FAULTS)
def test_every_fault_is_drawn_within_what_the_model_takes_and_changes_what_it_should(name: str) -> None:
    """By hand or, what needs current, driven: the case differs from the healthy one of the same seed."""
    motor, drawn = HallMotor(BENCH_MOTOR_12_V, 1), draw_fault(name, np.random.default_rng(3))
    assert set(motor.with_controls(drawn)) == set(motor.with_controls({}))
    if name in ("hall_pulses", "phase_resistance", "switch_dead"):
        faulty, healthy = (driven(motor, controls, seconds=0.3) for controls in (drawn, {}))
    else:
        faulty, healthy = (hand_turn(motor, controls, seed=2) for controls in (drawn, {}))
    edges_differ = faulty.edge_times_s.size != healthy.edge_times_s.size or not (
        np.array_equal(faulty.edge_levels, healthy.edge_levels)
        and np.allclose(faulty.edge_times_s, healthy.edge_times_s, atol=1e-6, rtol=0)
    )
    volts_differ = not np.allclose(faulty.voltages_v, healthy.voltages_v)
    seen_on_leads = ("phases_exchanged", "leads_exchanged", "phase_open", "phase_resistance", "switch_dead")
    assert edges_differ if name not in seen_on_leads else volts_differ


def test_a_case_of_three_seconds_is_made_in_less_than_a_fiftieth_of_a_second() -> None:
    """Of processor time, the best of some; a proof has thousands of them."""
    motor = healthy_motor(1)
    took_s = []
    for seed in range(5):
        begin_s = time.process_time()
        hand_turn(motor, {"hall_floating": "A+B+C"}, seed=seed, seconds=3.0, noise_v=0.01)
        took_s.append(time.process_time() - begin_s)
    assert min(took_s) < 0.05


def test_a_wrong_control_or_word_is_refused_with_the_right_ones() -> None:
    with pytest.raises(ValueError, match="no control 'hall_ordr'; the nearest is 'hall_order'"):
        hand_turn(healthy_motor(0), {"hall_ordr": "BCA"})
    with pytest.raises(ValueError, match="'BCD' is no number; write one of ABC, ACB"):
        hand_turn(healthy_motor(0), {"hall_order": "BCD"})
