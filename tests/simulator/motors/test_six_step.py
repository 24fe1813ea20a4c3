"""The equations of the brushless motor: commutation, wirings, energy, step, edges.

The classes of the 36 wirings and the torque fraction are those of tests/simulator/wirings.py.
"""

from dataclasses import replace
from math import inf

import numpy as np
import pytest
from numpy.typing import NDArray

from simulator.motors.brushless import BENCH_MOTOR_12_V, MODEL, TENDER_THRUSTER, Parameters
from simulator.motors.motor import Motor
from simulator.physics.stepping import Block
from tests.simulator.motors.cases import batch, rms, rpm, run
from tests.simulator.wirings import CLASSES, CLASSES_60, MIRRORED

IDEAL = replace(TENDER_THRUSTER, hall_hysteresis_deg=0.0, hall_place_deg=0.0, hall_width_deg=0.0, magnets_deg=0.0)
FORWARD = (5, 1, 3, 2, 6, 4)
FORWARD_60 = (1, 3, 7, 6, 4, 0)
PLUS, MINUS = np.array([0, 0, 1, 1, 2, 2]), np.array([1, 2, 2, 0, 0, 1])

# Hall A B C -> phase A B C: commutation table, Applied EE embedded notes, six-step commutation.
TABLE = {"101": "+-0", "100": "+0-", "110": "0+-", "010": "-+0", "011": "-0+", "001": "0-+"}


def _found(speeds_rpm: NDArray[np.float64]) -> str:
    """The class of a wiring, from where it is after starts with a push forward and one backward."""
    ahead, astern = speeds_rpm
    if max(abs(speeds_rpm)) < 20:
        return "L"
    if abs(ahead - astern) > 0.05 * abs(ahead):
        return f"neither: {ahead:.0f} and {astern:.0f} r/min"
    way = "f" if ahead > 0 else "r"
    if 1150 < abs(ahead) < 1250:
        return way.upper()
    return way + ("e" if abs(ahead) > 2000 else "l")


def _classes(wirings: list[dict[str, float]]) -> list[str]:
    """Each wiring on 12 V without load, pushed at 300 r/min either way."""
    cases, states = batch(MODEL, [(BENCH_MOTOR_12_V, wiring) for wiring in wirings for _ in range(2)], duty=1)
    states["speed_rad_s"] = np.tile([31.4, -31.4], len(wirings))
    block = run(MODEL, cases, states, 0.8, rate_hz=5_000.0, steps=16)
    return [_found(rpm(block.speed_rad_s[2 * k : 2 * k + 2, -2_000:])) for k in range(len(wirings))]


@pytest.mark.long
def test_all_36_wirings_run_as_their_class_says_and_as_the_mirrored_class_with_all_sensors_inverted() -> None:
    orders = [(h, q) for h in range(6) for q in range(6)]
    told = [CLASSES[h].split()[q] for h, q in orders]
    wirings: list[dict[str, float]] = [{"hall_order": h, "phase_order": q} for h, q in orders]
    found = _classes(wirings + [{**wiring, "hall_inverted": 7} for wiring in wirings])
    assert found[:36] == told
    assert found[36:] == [MIRRORED[each] for each in told]


def test_sensors_of_60_degrees_on_a_table_of_60_run_as_their_class_says() -> None:
    told = [(h, q, each) for h, row in CLASSES_60.items() for q, each in enumerate(row.split())]
    spacing = {"hall_spacing_deg": 60, "controller_spacing_deg": 60}
    assert _classes([{"hall_order": h, "phase_order": q, **spacing} for h, q, _ in told]) == [row[2] for row in told]


def _begun_later(block: Block, by_s: float) -> None:
    """Edges as of a recording that began so much later; what lies behind the last of them was never written."""
    for times_s, count in zip(block.edge_times_s, block.edge_counts, strict=True):
        times_s[:count] -= by_s


def _torque_fraction(block: Block, case: int, order: tuple[int, ...] = FORWARD) -> float:
    """Mean torque per ampere as a share of the best, from a recording made while a hand turned the shaft forward."""
    volts = block.values[case, :3]
    times, states = block.edge_times_s[case, : block.edge_counts[case]], block.edge_states[case]
    sectors = np.array([order.index(state) if state in order else -1 for state in states])
    which = np.searchsorted(times, np.arange(volts.shape[1]) / 20_000, side="right") - 1
    sector = sectors[np.clip(which, 0, None)]
    seen = np.where((sector >= 0) & (which >= 0), 1.0, 0.0)
    index = np.arange(volts.shape[1])
    pushing = seen * (volts[PLUS[sector], index] - volts[MINUS[sector], index])
    return float(np.sum(pushing) / np.sum((which >= 0) * np.ptp(volts, axis=0)))


@pytest.mark.long
def test_turned_by_hand_the_torque_fraction_of_each_wiring_is_that_of_its_class() -> None:
    """1 runs that way, -1 the other way, half is weak, 0 does not turn."""
    orders = [(h, q) for h in range(6) for q in range(6)]
    rows = [(BENCH_MOTOR_12_V, {"hall_order": float(h), "phase_order": float(q)}) for h, q in orders]
    cases, states = batch(MODEL, rows, supply_on=0, turned_by_hand=1, hand_rpm=90)
    run(MODEL, cases, states, 0.2)
    block = run(MODEL, cases, states, 0.77, first=4_000)
    _begun_later(block, 0.2)
    due = {"F": 1.0, "R": -1.0, "f": 0.5, "r": -0.5, "L": 0.0}
    for k, (h, q) in enumerate(orders):
        assert _torque_fraction(block, k) == pytest.approx(due[CLASSES[h].split()[q][0]], abs=0.03), (h, q)


@pytest.mark.parametrize(
    ("late_deg", "trapezoid", "sine"), [(0, 1, 1), (10, 0.986, 0.985), (20, 0.944, 0.940), (30, 0.875, 0.866)]
)
def test_the_torque_fraction_falls_with_the_timing_as_enumerated(late_deg: int, trapezoid: float, sine: float) -> None:
    rows: list[tuple[Parameters, dict[str, float]]] = [
        (replace(BENCH_MOTOR_12_V, emf_sine=s, hall_hysteresis_deg=0.0), {}) for s in (0.0, 1.0)
    ]
    cases, states = batch(MODEL, rows, supply_on=0, turned_by_hand=1, hand_rpm=90, hall_late_deg=late_deg)
    run(MODEL, cases, states, 0.2)
    block = run(MODEL, cases, states, 0.77, first=4_000)
    _begun_later(block, 0.2)
    assert [_torque_fraction(block, k) for k in range(2)] == pytest.approx([trapezoid, sine], abs=0.006)


def test_turned_open_a_sine_motor_shows_the_back_emf_of_the_usual_conventions() -> None:
    """0.1 V s/rad peak a phase, 3000 r/min, 4 pole pairs: geometry of balanced three-phase voltages (derived)."""
    motor = replace(IDEAL, pole_pairs=4, back_emf_v_s=0.1, emf_sine=1.0)
    cases, states = batch(MODEL, [(motor, {})], supply_on=0)
    cases["load"]["inertia_kg_m2"], states["speed_rad_s"], states["link_v"] = 1e12, 100 * np.pi, 100.0
    values = run(MODEL, cases, states, 0.1).values[0]
    line_v = values[0] - values[1]
    assert np.max(line_v) == pytest.approx(54.41398093, rel=1e-3)
    assert rms(line_v) == pytest.approx(38.4764949, rel=1e-6)
    assert np.ptp(line_v) == pytest.approx(108.8279619, rel=1e-3)
    assert rms(values[0] - np.mean(values[:3], axis=0)) == pytest.approx(22.21441469, rel=1e-6)
    assert np.count_nonzero(np.diff(np.sign(line_v)) > 0) == pytest.approx(200 * 0.1, abs=1)


def test_each_hall_state_drives_the_pair_of_the_published_table() -> None:
    cases, states = batch(MODEL, [(IDEAL, {"load_torque_n_m": 1})], duty=1, current_limit_a=inf)
    block = run(MODEL, cases, states, 0.3, rate_hz=200_000.0)
    edges = block.edge_times_s[0, : block.edge_counts[0]] * 200_000
    voltages = block.values[0, :3]
    seen = set()
    for k in range(len(edges) - 8, len(edges) - 1):
        middle = round((edges[k] + edges[k + 1]) / 2)
        state = int(block.edge_states[0, k])
        hall = "".join(str(state >> bit & 1) for bit in range(3))
        driven = "".join("+" if v == 36 else "-" if v == 0 else "0" for v in voltages[:, middle])
        assert driven == TABLE[hall]
        seen.add(hall)
    assert seen == set(TABLE)


@pytest.mark.parametrize(("spacing", "forward"), [(120, FORWARD), (60, FORWARD_60)])
def test_forward_and_reverse_run_through_the_hall_states_in_opposite_order(
    spacing: int, forward: tuple[int, ...]
) -> None:
    apart: dict[str, float] = {"hall_spacing_deg": spacing, "controller_spacing_deg": spacing}
    cases, states = batch(MODEL, [(IDEAL, apart), (IDEAL, {**apart, "direction": -1})], duty=1)
    block = run(MODEL, cases, states, 0.4)
    for k, order in ((0, forward), (1, forward[::-1])):
        seen = block.edge_states[k, : block.edge_counts[k]]
        assert len(seen) > 100
        after = {state: order[(place + 1) % 6] for place, state in enumerate(order)}
        steady = [int(state) for state in seen[2:]]  # another spacing may take two changes from the state at rest
        assert [after[state] for state in steady[:-1]] == steady[1:]
    assert rpm(block.speed_rad_s[0, -2_000:]) == pytest.approx(-rpm(block.speed_rad_s[1, -2_000:]), rel=1e-3)


def test_in_every_wiring_and_fault_energy_from_the_supply_is_lost_stored_or_turns_the_shaft() -> None:
    faults: list[dict[str, float]] = [
        {"phase_order": q, "hall_inverted": inverted} for q in range(6) for inverted in (0, 2)
    ]
    faults += [{"hall_stuck_low": 1}, {"hall_joined": 2}, {"hall_floating": 1}, {"hall_intermittent": 4}]
    faults += [{"hall_pulses": 7}, {"hall_late_deg": 30}, {"phase_u_open": 1}, {"jammed": 1}, {"source_limit_a": 3}]
    for motor in (BENCH_MOTOR_12_V, TENDER_THRUSTER):
        cases, states = batch(MODEL, [(motor, fault) for fault in faults], duty=1, load_torque_n_m=0.05)
        run(MODEL, cases, states, 0.5)
        for k, fault in enumerate(faults):
            given, lost, shaft = states[k]["energy_j"]
            assert given > 0.02, fault
            assert given == pytest.approx(lost + shaft + MODEL.stored_j(cases[k], states[k]), rel=0.005), fault


def test_started_loaded_reversed_jammed_and_released_the_energy_closes() -> None:
    motor = Motor(MODEL, TENDER_THRUSTER)
    for controls in (
        {"supply_on": 1, "duty": 0.8, "load_torque_n_m": 0.2},
        {"load_torque_n_m": 1.2},
        {"direction": -1},
        {"jammed": 1},
        {"jammed": 0},
        {"supply_on": 0, "turned_by_hand": 1, "hand_rpm": 500},
    ):
        motor.set(**controls)
        motor.advance(5_000)
        energy = motor.energy
        assert energy.input == pytest.approx(energy.lost + energy.shaft + energy.stored, rel=0.005), controls


def test_half_the_step_moves_no_settled_figure_by_more_than_a_thousandth() -> None:
    figures = []
    for steps in (5, 10, 25):
        rows: list[tuple[Parameters, dict[str, float]]] = [
            (IDEAL, {"load_torque_n_m": 1, "current_limit_a": inf}),
            (BENCH_MOTOR_12_V, {"hall_late_deg": 20}),
        ]
        cases, states = batch(MODEL, rows, duty=1)
        block = run(MODEL, cases, states, 0.6, steps=steps)
        found = [rpm(block.speed_rad_s[:, -4_000:]), rms(block.values[:, 4, -4_000:])]
        figures.append(np.array([*found, np.mean(block.torque_n_m[:, -4_000:], axis=-1)]))
    assert figures[0] == pytest.approx(figures[1], rel=1e-3)
    assert figures[0] == pytest.approx(figures[2], rel=1e-3)


def test_currents_of_the_three_phases_add_up_to_nothing_and_diodes_conduct_one_way() -> None:
    cases, states = batch(MODEL, [(TENDER_THRUSTER, {"duty": 0.6}), (TENDER_THRUSTER, {"supply_on": 0})])
    states["speed_rad_s"], states["link_v"] = 250.0, 5.0
    block = run(MODEL, cases, states, 0.02)
    assert np.sum(block.values[:, [4, 5, 7]], axis=1) == pytest.approx(0, abs=1e-9)
    terminals_v, link_v = block.values[1, :3], block.values[1, 3]
    assert np.all((terminals_v >= -0.7 - 1e-9) & (terminals_v <= link_v + 0.7 + 1e-9))
    assert np.max(link_v) > 20  # the diodes charged it
    assert not np.any(block.values[1, 6])


def test_a_dead_sensor_shows_in_the_current_more_than_in_the_speed_and_stops_a_start_from_some_places() -> None:
    """The project's own tables: slower by a tenth or two, five times the current, or no start at all in the gap."""
    cases, states = batch(MODEL, [(BENCH_MOTOR_12_V, {"hall_stuck_low": 1})] * 6, duty=1, source_limit_a=3)
    states["electrical_deg"] = 60 + 60 * np.arange(6)
    block = run(MODEL, cases, states, 1.5)
    speeds = np.array([rpm(block.speed_rad_s[k, -4_000:]) for k in range(6)])
    source_a = np.mean(block.values[:, 6, -4_000:], axis=-1)
    runs = speeds > 20
    assert 0 < np.count_nonzero(runs) < 6
    assert np.all(speeds[runs] > 0.8 * 1188)
    assert np.all(source_a[runs] > 4 * 0.37)
    assert np.all(source_a[~runs] < 0.01)


def test_a_sensor_out_of_place_leaves_the_speed_and_raises_the_peaks() -> None:
    """15 degrees: peaks 2.1 A instead of 0.6 A, the speed within a thousandth (the project's own tables)."""
    cases, states = batch(MODEL, [(BENCH_MOTOR_12_V, {"hall_b_late_deg": late}) for late in (0.0, 15.0)], duty=1)
    block = run(MODEL, cases, states, 1.5)
    speeds = [rpm(block.speed_rad_s[k, -4_000:]) for k in range(2)]
    assert speeds[1] == pytest.approx(speeds[0], rel=2e-3)
    peaks = np.max(np.abs(block.values[:, 4, -4_000:]), axis=-1)
    assert peaks == pytest.approx([0.6, 2.1], abs=0.15)


def test_in_a_state_that_its_table_does_not_know_the_bridge_is_off() -> None:
    motor = Motor(MODEL, BENCH_MOTOR_12_V)
    motor.set(supply_on=1, duty=1, hall_supply_fault=1)
    trace = motor.advance(2_000)
    assert motor.state == 7
    assert not np.any(trace.values[[4, 5, 7]])
    assert not np.any(trace.speed_rad_s)


def test_the_same_controls_give_the_same_bits_however_the_time_is_cut_with_every_random_fault() -> None:
    whole, cut = Motor(MODEL, seed=4), Motor(MODEL, seed=4)
    for motor in (whole, cut):
        motor.set(supply_on=1, duty=0.5, hall_pulses=7, hall_pulses_hz=300, hall_intermittent=2, hall_floating=1)
    once = whole.advance(4_000)
    pieces = [cut.advance(samples) for samples in (1, 2, 32, 965, 3_000)]
    for name in ("values", "edge_times_s", "edge_states"):
        assert getattr(once, name).tobytes() == np.concatenate([getattr(p, name) for p in pieces], axis=-1).tobytes()
    assert once.edge_states.size > 500
