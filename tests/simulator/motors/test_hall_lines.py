"""Hall sensors and their lines: order of states, faults, where and when they change.

States under a fault are from the project's own enumeration on paper. Places, widths and magnets are set in degrees
and read back from the times of the edges at a speed that nothing changes.
"""

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from simulator.motors.brushless import BENCH_MOTOR_12_V, MODEL, TENDER_THRUSTER, Parameters
from simulator.motors.hall_lines import LINES, draw_lines
from simulator.motors.motor import Motor
from simulator.physics.stepping import Block
from tests.simulator.motors.cases import batch, run

IDEAL = replace(BENCH_MOTOR_12_V, hall_hysteresis_deg=0.0)
W = 100.0  # rad/s

# fault, spacing: the states in order from sector 1 on, turning forward
STATES: tuple[tuple[dict[str, float], str, str], ...] = (
    ({}, "513264", "137640"),
    ({"hall_stuck_low": 1}, "402264", "026640"),
    ({"hall_stuck_high": 1}, "513375", "137751"),
    ({"hall_stuck_low": 2}, "511044", ""),
    ({"hall_stuck_high": 2}, "733266", ""),
    ({"hall_stuck_low": 4}, "113220", ""),
    ({"hall_stuck_high": 4}, "557664", ""),
    ({"hall_joined": 1}, "403044", "037440"),
    ({"hall_joined": 2}, "111060", ""),
    ({"hall_joined": 3}, "502220", ""),
    ({"hall_joined": 1, "hall_joined_high": 1}, "733374", ""),
    ({"hall_joined": 2, "hall_joined_high": 1}, "717666", ""),
    ({"hall_joined": 3, "hall_joined_high": 1}, "557275", ""),
    ({"hall_supply_fault": 1}, "777777", "777777"),
    ({"hall_supply_fault": 2}, "000000", "000000"),
)


def _turning(rows: list[tuple[Parameters, dict[str, float]]], seconds: float, w: float = W) -> tuple[Any, Any, Block]:
    """Shafts with so much inertia that nothing changes their speed; no supply."""
    cases, states = batch(MODEL, rows, supply_on=0)
    cases["load"]["inertia_kg_m2"], states["speed_rad_s"] = 1e12, w
    return cases, states, run(MODEL, cases, states, seconds)


def _levels(block: Block, case: int, at_s: NDArray[np.float64], start: int) -> list[int]:
    """What the inputs read at these moments; `start` before the first edge."""
    times, states = block.edge_times_s[case, : block.edge_counts[case]], block.edge_states[case]
    return [int(states[k - 1]) if k else start for k in np.searchsorted(times, at_s, side="right")]


def test_every_stuck_or_joined_line_and_lost_supply_goes_through_the_states_that_are_due() -> None:
    told = [(fault, 120, due) for fault, due, _ in STATES] + [(fault, 60, due) for fault, _, due in STATES if due]
    rows: list[tuple[Parameters, dict[str, float]]] = [
        (IDEAL, {**fault, "hall_spacing_deg": spacing}) for fault, spacing, _ in told
    ]
    _, _, block = _turning(rows, 0.03)
    middles_s = (np.radians(60 + 60 * np.arange(6) + 360) / 7 - 0.15) / W  # the second electrical turn
    for k, (fault, spacing, due) in enumerate(told):
        assert "".join(map(str, _levels(block, k, middles_s, 5))) == due, (fault, spacing)


def test_96_wirings_give_8_cycles_of_12_for_either_spacing() -> None:
    """The published counting argument: the 8 directed hexagons on the cube of states, each reached by 12 of 96."""
    for spacing in (120.0, 60.0):
        rows: list[tuple[Parameters, dict[str, float]]] = [
            (IDEAL, {"hall_order": o, "hall_inverted": inverted, "hall_spacing_deg": spacing})
            for o in range(6)
            for inverted in range(8)
        ]
        cycles = []
        for w in (W, -W):
            _, _, block = _turning(rows, 0.03, w)
            for k in range(48):
                seen = [int(state) for state in block.edge_states[k, block.edge_counts[k] - 6 : block.edge_counts[k]]]
                first = seen.index(min(seen))
                cycles.append(tuple(seen[first:] + seen[:first]))
        counts = [cycles.count(cycle) for cycle in set(cycles)]
        assert counts == [12] * 8


def test_four_pole_pairs_at_3000_rpm_give_200_electrical_turns_and_1200_edges_a_second() -> None:
    """Hall speed formula of a developer page on sensored six-step commutation: 60 degrees an edge, p turns a turn."""
    _, _, block = _turning([(replace(IDEAL, pole_pairs=4), {})], 1.0, 3000 * np.pi / 30)
    assert block.edge_counts[0] == pytest.approx(1200, abs=1)
    rising = np.count_nonzero(np.diff((block.edge_states[0, : block.edge_counts[0]] & 1).astype(int)) == 1)
    assert rising == pytest.approx(200, abs=1)


def test_with_seven_pole_pairs_neighbouring_sensors_change_17_1_mechanical_degrees_apart() -> None:
    """Printed: 17.1 degrees; Applied EE embedded notes, Hall sensor placement."""
    _, _, block = _turning([(IDEAL, {})], 0.2)
    rises = [_rises(block, 0, s) for s in range(2)]
    apart_s = rises[1][rises[1] > rises[0][0]][0] - rises[0][0]
    assert np.degrees(apart_s * W) == pytest.approx(17.1, abs=0.05)


def _rises(block: Block, case: int, sensor: int, falls: bool = False) -> NDArray[np.float64]:
    """Times at which an input rose, or fell."""
    times = block.edge_times_s[case, : block.edge_counts[case]]
    levels = (block.edge_states[case, : block.edge_counts[case]] >> sensor & 1).astype(int)
    return np.asarray(times[1:][np.diff(levels) == (-1 if falls else 1)])


def _deviations_deg(block: Block, case: int, sensor: int, falls: bool = False) -> NDArray[np.float64]:
    """Electrical degrees by which each change comes late against an ideal sensor, at +W."""
    electrical = np.degrees(0.15 + _rises(block, case, sensor, falls) * W) * 7
    ideal = 30 + 120 * sensor + (180 if falls else 0)
    return np.asarray((electrical - ideal + 180) % 360 - 180)


def test_place_width_and_lateness_move_the_edges_that_they_should() -> None:
    rows: list[tuple[Parameters, dict[str, float]]] = [
        (IDEAL, {}),
        (IDEAL, {"hall_b_late_deg": 12}),
        (IDEAL, {"hall_wider_deg": 8}),
        (IDEAL, {"hall_late_deg": -20}),
        (replace(IDEAL, hall_hysteresis_deg=3.0), {}),
    ]
    _, _, block = _turning(rows, 0.1)
    due = [((0, 0, 0), (0, 0, 0)), ((0, 12, 0), (0, 12, 0)), ((-4,) * 3, (4,) * 3), ((-20,) * 3,) * 2, ((3,) * 3,) * 2]
    for k, (rise, fall) in enumerate(due):
        for s in range(3):
            assert _deviations_deg(block, k, s) == pytest.approx(rise[s], abs=1e-4), (k, s)
            assert _deviations_deg(block, k, s, falls=True) == pytest.approx(fall[s], abs=1e-4), (k, s)


def test_hysteresis_makes_an_edge_late_both_ways_and_lateness_one_way() -> None:
    rows: list[tuple[Parameters, dict[str, float]]] = [
        (replace(IDEAL, hall_hysteresis_deg=3.0), {}),
        (IDEAL, {"hall_late_deg": 3}),
    ]
    first_s = []
    for w, edge_deg in ((W, 90.0), (-W, 30.0)):  # sector 1 ends, and begins
        _, _, block = _turning(rows, 0.02, w)
        ideal_s = (np.radians(edge_deg) / 7 - 0.15) / w
        first_s.append((block.edge_times_s[:, 0] - ideal_s) * np.degrees(W) * 7)
    assert first_s[0] == pytest.approx([3, 3], abs=1e-4)
    assert first_s[1] == pytest.approx([3, -3], abs=1e-4)


def test_given_magnets_shift_the_same_edge_of_each_sensor_once_a_turn() -> None:
    pattern = tuple(float(k % 5 - 2) for k in range(14))
    _, _, block = _turning([(replace(IDEAL, magnets=pattern), {"hall_magnets_deg": 1.0})], 0.2)
    for s in range(3):
        found = _deviations_deg(block, 0, s)
        turns = np.degrees(0.15 + _rises(block, 0, s) * W) * 7
        which = np.round((turns - found - 30 - 120 * s) / 180).astype(int) % 14
        assert found == pytest.approx([pattern[m] for m in which], abs=1e-4)
        assert set(which) == set(range(0, 14, 2))


def test_drawn_magnets_have_the_size_that_is_asked_for_and_come_from_the_seed() -> None:
    drawn = np.zeros(40, LINES)
    for seed in range(40):
        draw_lines(drawn[seed], seed, 7, ())
    assert np.sqrt(np.mean(drawn["magnet"][:, :14] ** 2)) == pytest.approx(1, abs=0.1)
    assert np.mean(drawn["magnet"][:, :14], axis=1) == pytest.approx(0, abs=1e-12)
    again = np.zeros(1, LINES)
    draw_lines(again[0], 7, 7, ())
    assert again[0].tobytes() == drawn[7].tobytes()
    with pytest.raises(ValueError, match="7 pole pairs, 3 magnets"):
        draw_lines(again[0], 0, 7, (1.0, 2.0, 3.0))


def test_a_healthy_thruster_has_the_scatter_of_a_healthy_draw() -> None:
    edges_deg = []
    for seed in range(30):
        motor = Motor(MODEL, replace(TENDER_THRUSTER, inertia_kg_m2=1e3), seed=seed)
        motor._state["speed_rad_s"] = W
        trace = motor.advance(3_000)
        electrical = np.degrees(0.15 + trace.edge_times_s * W) * 7
        edges_deg.append((electrical - 30 + 30) % 60 - 30)
    assert 0.9 < np.std(np.concatenate(edges_deg)) < 1.6  # place 0.8, half a width 0.5, magnet 0.6: 1.1
    assert abs(np.mean(np.concatenate(edges_deg)) - 0.5) < 0.4  # hysteresis


def test_an_input_without_a_pull_up_chatters_where_its_sensor_is_off_and_is_clean_where_it_is_on() -> None:
    """The project's own tables: 11 000 to 30 000 edges a second instead of 875, lows clean, also at standstill."""
    _, _, block = _turning([(IDEAL, {"hall_floating": 1}), (IDEAL, {"hall_floating": 7})], 1.0)
    assert 5_000 < block.edge_counts[0] < 30_000
    assert 11_000 < block.edge_counts[1] < 45_000
    low = 0.0
    for rise, fall in zip(_rises_of_true(block), _falls_of_true(block), strict=False):
        inside = (block.edge_times_s[0, : block.edge_counts[0]] > fall + 1e-9) & (
            block.edge_times_s[0, : block.edge_counts[0]] < rise - 1e-9
        )
        low += np.count_nonzero(np.diff(block.edge_states[0, : block.edge_counts[0]][inside] & 1))
    assert low == 0
    motor = Motor(MODEL)
    motor.set(hall_floating=1)
    assert motor.advance(2_000).edge_states.size > 200


def _falls_of_true(block: Block) -> NDArray[np.float64]:
    """Times at which sensor A itself fell, from the truth of the rotor's angle."""
    n = np.arange(0, 110)
    return np.asarray((np.radians(210 + 360 * n) / 7 - 0.15) / W)


def _rises_of_true(block: Block) -> NDArray[np.float64]:
    n = np.arange(1, 111)
    return np.asarray((np.radians(30 + 360 * n) / 7 - 0.15) / W)


def test_a_wire_that_breaks_for_moments_reads_high_in_bursts_and_also_at_standstill() -> None:
    cases, states = batch(MODEL, [(IDEAL, {"hall_intermittent": 2, "hall_bursts_hz": 4})], supply_on=0)
    block = run(MODEL, cases, states, 20.0, rate_hz=2_000.0, steps=5)  # at rest A and C are high, B is low
    times = block.edge_times_s[0, : block.edge_counts[0]]
    assert set(block.edge_states[0, : block.edge_counts[0]]) == {5, 7}
    begins = times[np.concatenate([[True], np.diff(times) > 0.008])]
    assert len(begins) == pytest.approx(4 * 20 / (1 + 4 * 0.03), rel=0.35)
    assert np.median(np.diff(times)[np.diff(times) < 0.008]) == pytest.approx(0.0006 * np.log(2), rel=0.3)


def test_pulses_are_short_come_at_their_rate_and_only_while_current_flows() -> None:
    rows = [(IDEAL, {"hall_pulses": 1.0, "hall_pulses_hz": 200.0, "supply_on": on, "duty": 0.2}) for on in (1.0, 0.0)]
    cases, states = batch(MODEL, rows, jammed=1)
    block = run(MODEL, cases, states, 5.0)
    times = block.edge_times_s[0, : block.edge_counts[0]]
    lengths = times[1::2] - times[::2]
    assert len(lengths) == pytest.approx(1_000, rel=0.15)
    assert np.min(lengths) >= 5e-6
    assert np.mean(lengths <= 60e-6 + 1e-9) > 0.98  # now and then one begins before the last has ended
    assert block.edge_counts[1] == 0


def test_while_it_runs_most_pulses_come_just_after_a_sensor_changed() -> None:
    cases, states = batch(MODEL, [(IDEAL, {"hall_pulses": 4, "hall_pulses_hz": 100, "duty": 1})])
    run(MODEL, cases, states, 0.3)
    block = run(MODEL, cases, states, 2.0, first=6_000)
    times = block.edge_times_s[0, : block.edge_counts[0]]
    gaps = np.diff(times)
    short = np.flatnonzero((gaps[1:] > 5.01e-6) & (gaps[1:] < 60e-6 + 1e-9)) + 1  # pulses; 5 us is their wait
    assert len(short) == pytest.approx(200, rel=0.25)
    assert np.mean(np.abs(gaps[short - 1] - 5e-6) < 1e-9) > 0.9


def test_random_faults_do_not_depend_on_the_step() -> None:
    """At standstill nothing but time moves the lines."""
    times = []
    for steps in (2, 5, 20):
        rows = [(IDEAL, {"hall_pulses": 1.0, "hall_intermittent": 2.0, "hall_floating": 4.0, "duty": 0.2})]
        cases, states = batch(MODEL, rows, jammed=1)
        run(MODEL, cases, states, 0.01, steps=steps)  # current flows from here on
        block = run(MODEL, cases, states, 0.5, steps=steps, first=200)
        times.append(block.edge_times_s[0, : block.edge_counts[0]].copy())
    assert len(times[0]) > 1_000
    assert times[1] == pytest.approx(times[0], abs=1e-9)
    assert times[2] == pytest.approx(times[0], abs=1e-9)


def test_random_faults_go_on_alike_after_days() -> None:
    """4.6 days: there one slot of the noise more or less is lost in the time's last bits."""
    edges = []
    for first in (0, 20_000 * 400_000):
        rows = [(IDEAL, {"duty": 0.2, name: 1.0}) for name in ("hall_floating", "hall_pulses", "hall_intermittent")]
        cases, states = batch(MODEL, rows, hall_bursts_hz=20)
        edges.append(run(MODEL, cases, states, 1.0, first=first).edge_counts)
    assert np.all(edges[0] > 100)
    assert edges[1] == pytest.approx(edges[0], rel=0.1)


def test_the_current_of_the_sensors_tells_a_lost_and_an_exchanged_supply() -> None:
    rows = [(IDEAL, {"hall_supply_fault": float(fault)}) for fault in range(4)]
    cases, states = batch(MODEL, rows, supply_on=0)
    sensors_a = run(MODEL, cases, states, 0.01).values[:, 8, -1]
    assert 0.005 <= sensors_a[0] <= 0.030
    assert list(sensors_a[1:3]) == [0, 0]
    assert 0.050 <= sensors_a[3] <= 0.200


def test_a_fault_that_goes_again_leaves_the_lines_as_they_were() -> None:
    motor = Motor(MODEL, IDEAL)
    before = motor.state
    for fault in (
        {"hall_inverted": 7},
        {"hall_floating": 7},
        {"hall_pulses": 7},
        {"hall_intermittent": 7},
        {"hall_joined": 1},
        {"hall_order": 3},
        {"hall_spacing_deg": 60},
        {"hall_late_deg": 45},
    ):
        motor.set(**fault)
        motor.advance(3_000)
        healthy = {"hall_spacing_deg": 120.0}
        motor.set(**{name: healthy.get(name, 0.0) for name in fault})
        motor.advance(100)
        assert motor.state == before, fault
