"""The equations of the brushless motor: commutation, diodes, energy, step."""

from dataclasses import replace

import numpy as np
import pytest

from simulator.motors.brushless import THRUSTER, Parameters
from tests.simulator.motors.cases import rms, rpm, run_thrusters, thrusters

FORWARD = (5, 1, 3, 2, 6, 4)

# Hall A B C -> phase A B C: commutation table, Applied EE embedded notes, six-step commutation.
TABLE = {"101": "+-0", "100": "+0-", "110": "0+-", "010": "-+0", "011": "-0+", "001": "0-+"}

# The second motor of the project's own reference tables, on a weak 12 V source (0.05 ohm): ideal diodes, Halls
# with 1 degree of hysteresis. Columns: late by (electrical degrees), dry load in N.m beside its own friction,
# r/min, supply current, phase current RMS. Computed independently of this model; they need the diodes of an
# idle phase. Left out: peaks, which the resistance of that source shapes.
SECOND = replace(
    THRUSTER,
    phase_ohm=0.12,
    phase_h=0.0002,
    back_emf_v_s=0.0475,
    inertia_kg_m2=0.0002,
    friction_n_m_s=4e-5,
    diode_v=1e-3,
    hall_hysteresis_deg=1.0,
)
LATENESS = (
    (-30, 0.0, 1323, 0.54, 1.95),
    (-20, 0.0, 1252, 0.41, 0.78),
    (-10, 0.0, 1204, 0.37, 0.33),
    (0, 0.0, 1188, 0.37, 0.31),
    (10, 0.0, 1190, 0.37, 0.35),
    (20, 0.0, 1193, 0.39, 0.74),
    (30, 0.0, 1203, 0.50, 1.95),
    (-30, 0.12, 1253, None, 2.38),
    (-20, 0.12, 1188, None, 1.54),
    (-10, 0.12, 1142, None, 1.35),
    (0, 0.12, 1127, None, 1.35),
    (10, 0.12, 1133, None, 1.39),
    (20, 0.12, 1138, None, 1.72),
    (30, 0.12, 1128, None, 3.02),
)


def test_each_hall_state_drives_the_pair_of_the_published_table() -> None:
    cases, states = thrusters([(THRUSTER, {"load_torque_n_m": 1})])
    block = run_thrusters(cases, states, 0.5, rate_hz=500_000.0, steps=1)
    edges = block.edge_times_s[0, : block.edge_counts[0]] * 500_000
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


def test_forward_and_reverse_run_through_the_hall_states_in_opposite_order() -> None:
    cases, states = thrusters([(THRUSTER, {}), (THRUSTER, {"direction": -1})])
    block = run_thrusters(cases, states, 0.2)
    for k, order in ((0, FORWARD), (1, FORWARD[::-1])):
        seen = block.edge_states[k, : block.edge_counts[k]]
        assert len(seen) > 100
        after = {state: order[(place + 1) % 6] for place, state in enumerate(order)}
        assert [after[state] for state in seen[:-1]] == list(seen[1:])
    assert rpm(block.speed_rad_s[0, -5_000:]) == pytest.approx(-rpm(block.speed_rad_s[1, -5_000:]), rel=1e-3)


def test_a_turn_has_six_edges_a_pole_pair_and_their_instants_are_finer_than_a_microsecond() -> None:
    cases, states = thrusters([(replace(THRUSTER, hall_hysteresis_deg=0.0), {"supply_on": 0})])
    w = 200.0
    cases["inertia_kg_m2"], states["speed_rad_s"] = 1e12, w  # a speed that nothing changes: an edge every pi/(3 p w)
    block = run_thrusters(cases, states, 0.2, rate_hz=20_000.0, steps=25)
    edges = block.edge_times_s[0, : block.edge_counts[0]]
    first_s = (np.radians(90) / 7 - 0.15) / w
    assert edges == pytest.approx(first_s + np.arange(len(edges)) * np.pi / (3 * 7 * w), abs=1e-8)
    assert len(edges) == pytest.approx(0.2 * w / (2 * np.pi) * 42, abs=1)


@pytest.mark.parametrize(
    ("motor", "late_deg"),
    [
        (replace(THRUSTER, hall_hysteresis_deg=3.0), (3.0, 3.0)),
        (replace(THRUSTER, hall_hysteresis_deg=0.0, hall_late_deg=3.0), (3.0, -3.0)),
    ],
)
def test_hysteresis_makes_an_edge_late_both_ways_and_a_shift_late_one_way(
    motor: Parameters, late_deg: tuple[float, float]
) -> None:
    cases, states = thrusters([(motor, {"supply_on": 0})] * 2)
    cases["inertia_kg_m2"], states["speed_rad_s"] = 1e12, [100.0, -100.0]
    ideal_s = np.array([np.radians(90) / 7 - 0.15, 0.15 - np.radians(30) / 7]) / 100.0
    due_s = ideal_s + np.radians(late_deg) / 7 / 100.0
    for k in range(2):
        before = run_thrusters(cases[k : k + 1], states[k : k + 1].copy(), due_s[k] - 10e-6, rate_hz=500_000.0, steps=1)
        assert before.edge_counts[0] == 0
    block = run_thrusters(cases, states, 0.02)
    assert block.edge_times_s[:, 0] == pytest.approx(due_s, abs=1e-8)


def test_sensors_early_and_late_move_speed_and_currents_as_in_the_reference_table() -> None:
    motors: list[tuple[Parameters, dict[str, float]]] = []
    for late_deg, load, _, link_a, _ in LATENESS:
        drop_v = 0.05 * (link_a or 1.65)  # 1.65 A: load and friction times speed, over 12 V
        motors.append((replace(SECOND, hall_late_deg=late_deg, source_v=12 - drop_v), {"load_torque_n_m": load}))
    cases, states = thrusters(motors)
    block = run_thrusters(cases, states, 1.0)
    last = slice(-40_000, None)
    for k, (late_deg, load, n, link_a, phase_a) in enumerate(LATENESS):
        row = f"{late_deg} degrees late, {load} N.m"
        assert rpm(block.speed_rad_s[k, last]) == pytest.approx(n, rel=0.02), row
        assert rms(block.values[k, 4, last]) == pytest.approx(phase_a, rel=0.05), row
        if link_a is not None:
            assert np.mean(block.values[k, 6, last]) == pytest.approx(link_a, rel=0.06), row


def test_power_from_the_link_is_lost_in_resistance_and_diodes_or_turns_the_shaft() -> None:
    cases, states = thrusters([(THRUSTER, {"load_torque_n_m": load}) for load in (0.0, 1.0, 1.7)])
    block = run_thrusters(cases, states, 0.6, rate_hz=500_000.0, steps=1)
    u, v, w, link_v, iu, iv, link_a = np.moveaxis(block.values[:, :, -100_000:], 1, 0)
    iw = -iu - iv
    copper = THRUSTER.phase_ohm * np.mean(iu**2 + iv**2 + iw**2, axis=-1)
    shaft = np.mean(block.torque_n_m[:, -100_000:] * block.speed_rad_s[:, -100_000:], axis=-1)
    terminals = np.mean(u * iu + v * iv + w * iw, axis=-1)
    assert terminals == pytest.approx(copper + shaft, rel=0.004)
    diodes = np.mean(link_v * link_a, axis=-1) - terminals
    assert np.all(diodes > 0)
    assert np.all(diodes < 0.005 * terminals)


def test_half_the_step_moves_no_settled_figure_by_more_than_a_thousandth() -> None:
    figures = []
    for steps in (5, 10):
        cases, states = thrusters([(THRUSTER, {"load_torque_n_m": 1})])
        block = run_thrusters(cases, states, 0.4, steps=steps)
        speed, torque, phase_a = block.speed_rad_s[0], block.torque_n_m[0], block.values[0, 4]
        figures.append(np.array([rpm(speed[-20_000:]), rms(phase_a[-20_000:]), np.mean(torque[-20_000:])]))
    assert figures[0] == pytest.approx(figures[1], rel=1e-3)


def test_currents_of_the_three_phases_add_up_to_nothing_and_diodes_conduct_one_way() -> None:
    """W is not among the signals: it is what U and V leave, so the state is looked at."""
    cases, states = thrusters([(THRUSTER, {"duty": 0.6}), (THRUSTER, {"supply_on": 0})])
    states["speed_rad_s"], states["link_v"] = 250.0, 5.0
    for _ in range(400):
        block = run_thrusters(cases, states, 50e-6, rate_hz=20_000.0, steps=25)
        assert np.sum(states["i"], axis=1) == pytest.approx(0, abs=1e-9)
        terminals_v, link_v = block.values[1, :3, 0], block.values[1, 3, 0]
        assert np.all((terminals_v >= -0.7 - 1e-12) & (terminals_v <= link_v + 0.7 + 1e-12))
        assert block.values[1, 6, 0] <= 0  # a bridge that is off can only give back
