"""The bench grinder against the project's own reference tables, computed independently of this model.

Tolerances belong to the tables: 2 % on settled figures, 5 % on times, 10 % on peaks. What the start devices beside the
centrifugal switch do is textbook knowledge, no published figures.
"""

import numpy as np
import pytest
from numpy.typing import NDArray

from simulator.motors.motor import Motor, Trace
from simulator.motors.split_phase import BENCH_GRINDER, MODEL
from tests.simulator.motors.cases import batch, rms, rpm, run
from tests.simulator.motors.induction import (
    AUXILIARY_A,
    CAPACITOR_V,
    CUTOUT_CLOSED,
    LINE_A,
    START_CLOSED,
    WINDING_C,
    Row,
    check_points,
    cycle_rms,
)

CYCLE = 400
FLYWHEEL = {"load_inertia_kg_m2": 1000.0, "load_torque_n_m": 0.0}  # holds a speed
COLUMNS = "speed_rpm slip_percent I P PF I_main I_aux T_air P_out eff"
POINTS: tuple[Row, ...] = (
    ("0.8", BENCH_GRINDER, {"load_torque_n_m": 0.8},
     (2854, 4.877, 2.576, 386, 0.6516, 2.478, 0, 0.8448, 239.1, 0.6193)),
    ("0.1", BENCH_GRINDER, {}, (2975, 0.8341, 2.021, 135.5, 0.2916, 1.982, 0, 0.1467, 31.15, 0.2299)),
    ("1.0", BENCH_GRINDER, {"load_torque_n_m": 1.0},
     (2807, 6.442, 2.888, 471, 0.7092, 2.781, 0, 1.044, 293.9, 0.624)),
    ("0.8 at 207 V", BENCH_GRINDER, {"load_torque_n_m": 0.8, "mains_v": 207},
     (2807, 6.425, 2.596, 380.8, 0.7087, 2.5, 0, 0.8441, 235.2, 0.6176)),
    ("locked", BENCH_GRINDER, {"jammed": 1}, (0, 100, 15.49, 2967, 0.8327, 7.523, 8.582, 1.313, 0, 0)),
    ("locked, start open", BENCH_GRINDER, {"jammed": 1, "switch_stuck_open": 1},
     (0, 100, 7.617, 1086, 0.6201, 7.523, 0, 0, 0, 0)),
    ("locked, auxiliary open", BENCH_GRINDER, {"jammed": 1, "auxiliary_open": 1},
     (0, 100, 7.617, 1086, 0.6201, 7.523, 0, 0, 0, 0)),
    ("stuck closed", BENCH_GRINDER, {"load_torque_n_m": 0.8, "switch_stuck_closed": 1},
     (2852, 4.926, 11.17, 2179, 0.848, 4.095, 7.924, 0.8448, 238.9, 0.1096)),
    ("2250", BENCH_GRINDER, {**FLYWHEEL, "switch_stuck_closed": 1},
     (2250, 25, 13.67, 2716, 0.8639, 6.338, 7.204, 2.625, None, None)),
    ("2250 main", BENCH_GRINDER, {**FLYWHEEL, "switch_stuck_open": 1},
     (2250, 25, 5.723, 985, 0.7482, 5.61, 0, 1.575, None, None)),
)  # fmt: skip


def started(**controls: float) -> tuple[Motor, Trace]:
    motor = Motor(MODEL)
    motor.set(supply_on=1, **controls)
    return motor, motor.advance(60_000)


def openings(trace: Trace) -> NDArray[np.intp]:
    """The first sample after each opening of the start circuit."""
    return np.flatnonzero(np.diff(trace.truths[START_CLOSED]) < 0) + 1


def test_every_point_of_the_table_is_where_the_motor_settles() -> None:
    block = check_points(MODEL, COLUMNS, POINTS, 4.0, {"2250": 2250.0, "2250 main": 2250.0})
    for k, expected in ((8, 610.1), (9, 362.7)):  # P_out of the torque-speed rows less friction, which here is the load
        w = block.speed_rad_s[k, -12_000:]
        shaft_w = np.mean(block.torque_n_m[k, -12_000:] * w) - 0.00015 * np.mean(w**2)
        assert shaft_w == pytest.approx(expected, rel=0.02)


@pytest.mark.parametrize(
    ("load_n_m", "t_open", "t95", "before_a", "after_a", "n_final", "line_a", "power_w"),
    [(0.1, 0.7818, 1.057, 13.94, 5.318, 2975, 2.022, 135.6), (0.8, 1.332, 1.727, 13.83, 5.368, 2854, 2.576, 386.1)],
)
def test_the_start_takes_as_long_and_as_much_as_the_table_says(
    load_n_m: float, t_open: float, t95: float, before_a: float, after_a: float, n_final: float, line_a: float,
    power_w: float,
) -> None:  # fmt: skip
    _, trace = started(load_torque_n_m=load_n_m)
    line, (opened,) = trace.values[LINE_A], openings(trace)
    final = np.mean(trace.speed_rad_s[-4_000:])
    assert opened / 20_000 == pytest.approx(t_open, rel=0.05)
    assert np.argmax(trace.speed_rad_s > 0.95 * final) / 20_000 == pytest.approx(t95, rel=0.05)
    assert np.max(np.abs(line)) == pytest.approx(23.87, rel=0.10)
    assert cycle_rms(line, opened - 2 * CYCLE) == pytest.approx(before_a, rel=0.02)
    assert cycle_rms(line, opened + CYCLE) == pytest.approx(after_a, rel=0.02)
    assert final * 30 / np.pi == pytest.approx(n_final, rel=0.02)
    assert rms(line[-4_000:]) == pytest.approx(line_a, rel=0.02)
    assert np.mean(line[-4_000:] * trace.values[0, -4_000:]) == pytest.approx(power_w, rel=0.02)


def test_with_its_start_winding_reversed_it_starts_the_other_way_in_the_same_time() -> None:
    _, trace = started(auxiliary_reversed=1)
    assert rpm(trace.speed_rad_s[-4_000:]) == pytest.approx(-2975, rel=0.02)
    final = np.mean(trace.speed_rad_s[-4_000:])
    assert np.argmax(trace.speed_rad_s < 0.95 * final) / 20_000 == pytest.approx(1.057, rel=0.05)


def test_the_switch_parts_at_the_zero_of_its_current_and_shows_the_voltage_across_it() -> None:
    _, trace = started()
    (opened,) = openings(trace)
    assert abs(trace.values[AUXILIARY_A, opened - 1]) < 0.5  # of 7 A: one sample before its zero
    assert not np.any(trace.values[AUXILIARY_A, opened:])
    assert not np.any(trace.values[CAPACITOR_V, :opened])
    assert rms(trace.values[CAPACITOR_V, -4_000:]) > 100


def test_coasting_the_switch_closes_again_so_the_next_start_has_it() -> None:
    motor, _ = started()
    motor.set(supply_on=0, load_torque_n_m=0.8)
    coasting = motor.advance(60_000)
    closed = int(np.argmax(coasting.truths[START_CLOSED]))
    assert coasting.speed_rad_s[closed] * 30 / np.pi == pytest.approx(1200, rel=0.01)
    motor.set(supply_on=1, load_torque_n_m=0.1)
    motor.advance(60_000)
    assert rpm(motor.advance(4_000).speed_rad_s) == pytest.approx(2975, rel=0.02)


def test_above_its_switch_speed_a_reversed_start_winding_changes_nothing() -> None:
    """Common practice, no published source: it reverses from rest only."""
    motor, _ = started()
    motor.set(supply_on=0)
    motor.advance(6_000)
    motor.set(supply_on=1, auxiliary_reversed=1)
    assert rpm(motor.advance(20_000).speed_rad_s[-4_000:]) == pytest.approx(2975, rel=0.02)


def test_a_late_switch_opens_late() -> None:
    times = [openings(started(switch_opens_rpm=rpm)[1])[0] for rpm in (2250, 2600, 2800)]
    assert times[0] < times[1] < times[2]


def test_at_low_voltage_the_switch_opens_later_as_the_square() -> None:
    """The project's own reference tables: t_open scales as 1/U^2."""
    at_230, at_207 = (openings(started(mains_v=volts)[1])[0] for volts in (230, 207))
    assert at_207 / at_230 == pytest.approx((230 / 207) ** 2, rel=0.05)


def test_a_worn_contact_closes_again_a_few_times_some_milliseconds_after_it_has_parted() -> None:
    """The project's own reference tables: 1 to 5 ms of chatter around opening."""
    traces = []
    for seed in (1, 1, 2):
        motor = Motor(MODEL, seed=seed)
        motor.set(supply_on=1, switch_worn=1)
        traces.append(motor.advance(30_000))
    assert traces[0].values.tobytes() == traces[1].values.tobytes() != traces[2].values.tobytes()
    for trace in traces[1:]:
        opened = openings(trace)
        closed = np.flatnonzero(np.diff(trace.truths[START_CLOSED]) > 0) + 1
        assert 2 <= closed.size <= 4
        gaps_s = (closed - opened[:-1]) / 20_000
        assert np.all((gaps_s >= 0.001 - 1e-4) & (gaps_s <= 0.005 + 1e-4))
        assert trace.truths[START_CLOSED, -1] == 0
        assert np.max(np.abs(trace.values[AUXILIARY_A, closed[0] : opened[1]])) > 2  # a second step of the current


def test_a_contact_that_chops_rings_for_a_moment_on_the_channel_across_it_and_nowhere_else() -> None:
    """The project's own reference tables, from memory there: a few hundred volts, 0.1 to 1 ms."""
    motor, trace = started(contact_chops_a=1)
    (opened,) = openings(trace)
    assert MODEL.disturbance is not None
    added = []
    for cut in (60_000, 777):
        spike = MODEL.disturbance(BENCH_GRINDER, 20_000.0, np.random.default_rng(5))
        parts = [
            spike.add(piece(trace, slice(at, at + cut)), motor.controls) - trace.values[:, at : at + cut]
            for at in range(0, 60_000, cut)
        ]
        added.append(np.concatenate(parts, axis=1))
    assert np.max(np.abs(added[0] - added[1])) < 1e-9  # however the time is cut
    ring = added[0][CAPACITOR_V]
    assert 50 < np.max(np.abs(ring)) <= 400
    assert not np.any(ring[:opened])
    assert np.max(np.abs(ring[opened + 60 :])) < 0.05
    assert not np.any(added[0][[0, LINE_A, AUXILIARY_A]])


def piece(trace: Trace, of: slice) -> Trace:
    return Trace(
        trace.values[:, of], trace.speed_rad_s[of], trace.torque_n_m[of], trace.angle_rad[of], trace.truths[:, of],
        np.empty(0), np.empty(0, dtype=np.uint8),
    )  # fmt: skip


def test_a_current_relay_closes_within_two_cycles_and_opens_on_the_way_up() -> None:
    _, trace = started(start_device=2)
    closed, (opened,) = int(np.argmax(trace.truths[START_CLOSED])), openings(trace)
    assert 0 < closed <= 2 * CYCLE
    assert 0.5 * 3000 < trace.speed_rad_s[opened] * 30 / np.pi < 0.95 * 3000
    assert rpm(trace.speed_rad_s[-4_000:]) == pytest.approx(2975, rel=0.02)


def test_a_ptc_lets_it_start_and_then_leaves_a_small_current() -> None:
    _, trace = started(start_device=3)
    (opened,) = openings(trace)
    rest_a = rms(trace.values[AUXILIARY_A, -4_000:])
    assert opened < 50_000
    assert rpm(trace.speed_rad_s[-4_000:]) == pytest.approx(2975, rel=0.02)
    assert 0.002 < rest_a < 0.1
    gap_v = rms(trace.values[CAPACITOR_V, -4_000:])
    assert 1 < gap_v * rest_a < 20  # what keeps it hot


def test_a_hot_ptc_does_not_start_the_motor_again_until_it_has_cooled() -> None:
    motor, _ = started(start_device=3)
    motor.set(supply_on=0, jammed=1)
    motor.advance(10_000)
    motor.set(supply_on=1, jammed=0)
    assert abs(rpm(motor.advance(10_000).speed_rad_s[-4_000:])) < 20
    motor.set(supply_on=0)
    for _ in range(24):
        motor.advance(50_000)
    motor.set(supply_on=1)
    motor.advance(60_000)
    assert rpm(motor.advance(4_000).speed_rad_s) == pytest.approx(2975, rel=0.02)


def test_a_jammed_motor_with_a_thermal_cut_out_cycles() -> None:
    motor = Motor(MODEL, rate_hz=10_000.0)
    motor.set(supply_on=1, jammed=1, cutout_fitted=1)
    closed, winding_c, line_a = [], [], []
    for _ in range(240):
        trace = motor.advance(10_000)
        closed.append(trace.truths[CUTOUT_CLOSED, ::100])
        winding_c.append(trace.truths[WINDING_C, ::100])
        line_a.append(rms(trace.values[LINE_A].reshape(-1, 100)))
    switch, warm = np.concatenate(closed), np.concatenate(winding_c)
    changes = np.flatnonzero(np.diff(switch))
    assert changes.size >= 3
    assert warm[changes[0]] == pytest.approx(120, abs=0.5)
    assert warm[changes[1]] == pytest.approx(80, abs=0.5)
    assert np.max(warm) < 121
    flowing = np.concatenate(line_a) > 5
    assert np.mean(flowing == (switch > 0)) > 0.99


def test_two_poles_turn_a_little_below_3000_or_3600_and_the_more_loaded_the_slower() -> None:
    """Common practice, no published source: some 3 to 10 % of slip at rated load, more with load and at low voltage."""
    sixty = MODEL.parameter_sets["bench_grinder_60_hz"]
    rows = [
        *((BENCH_GRINDER, {"load_torque_n_m": load}) for load in (0.0, 0.4, 0.8)),
        (BENCH_GRINDER, {"load_torque_n_m": 0.8, "mains_v": 207.0}),
        *((sixty, {"load_torque_n_m": load / 1.2}) for load in (0.0, 0.8)),
    ]
    cases, states = batch(MODEL, rows)
    block = run(MODEL, cases, states, 5.0)
    idle, half, rated, sagging, idle_60, rated_60 = (float(rpm(w[-4_000:])) for w in block.speed_rad_s)
    assert 2970 < idle < 3000
    assert idle > half > rated > sagging
    assert 3 < 100 * (1 - rated / 3000) < 10
    assert 3564 < idle_60 < 3600
    assert rated_60 == pytest.approx(1.2 * rated, rel=0.002)
    power = [float(np.mean(block.values[k, 0, -4_000:] * block.values[k, LINE_A, -4_000:])) for k in (2, 5)]
    assert power[1] == pytest.approx(power[0], rel=0.01)


def test_its_supply_leads_exchanged_it_runs_the_same_way() -> None:
    """Common practice, no published source. Exchanged leads are the other half of the voltage's cycle."""
    _, trace = started(switching_angle_deg=180)
    assert rpm(trace.speed_rad_s[-4_000:]) == pytest.approx(2975, rel=0.02)


def test_without_a_cut_out_the_line_closes_however_the_last_one_was_left() -> None:
    warm, states = batch(MODEL, [(BENCH_GRINDER, {"cutout_fitted": 1})])
    states["winding_c"] = 130.0
    opened = run(MODEL, warm, states, 0.2)
    assert opened.truths[0, CUTOUT_CLOSED, -1] == 0
    assert not np.any(opened.values[0, LINE_A, -400:])
    bare, _ = batch(MODEL, [(BENCH_GRINDER, {})])
    after = run(MODEL, bare, states, 0.2, first=4_000)
    assert after.truths[0, CUTOUT_CLOSED, -1] == 1
    assert rms(after.values[0, LINE_A, -400:]) > 5
