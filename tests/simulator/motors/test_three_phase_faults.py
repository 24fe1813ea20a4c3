"""Lines that open and come back, star and delta, supplies and signs of wear of the three-phase motor; energy and steps.

Facts of the trade are common practice, no published source, unless one stands beside the check.
"""

from collections.abc import Mapping
from dataclasses import replace
from math import pi, sqrt

import numpy as np
import pytest

from simulator.motors.motor import Motor, Trace
from simulator.motors.three_phase_induction import MODEL, SLIPWAY_PUMP
from tests.simulator.motors.cases import batch, rms, run
from tests.simulator.motors.test_three_phase_induction import RATE_HZ, bin_db, tone

LOADED = {"supply_on": 1.0, "load_factor": 0.0, "load_torque_n_m": 10.0}
BENT = {"harmonic_5_percent": 20.0, "flicker_percent": 10.0, "source_ohm": 2.0, "source_h": 0.01}
LIGHT = {"supply_on": 1.0, "load_factor": 0.0}


def played(*stretches: tuple[Mapping[str, float], float], rate_hz: float = RATE_HZ) -> tuple[Motor, list[Trace]]:
    """One pump through stretches of controls, each for some seconds."""
    motor, traces = Motor(MODEL, rate_hz=rate_hz), []
    for controls, seconds in stretches:
        motor.set(**controls)
        traces.append(motor.advance(round(seconds * rate_hz)))
    return motor, traces


STORIES: dict[str, tuple[tuple[Mapping[str, float], float], ...]] = {
    "start and load": ((LIGHT, 0.3), ({"load_torque_n_m": 12.0}, 0.5)),
    "jam and release": ((LOADED, 0.4), ({"jammed": 1}, 0.3), ({"jammed": 0}, 0.4)),
    "line lost and back": ((LOADED, 0.4), ({"l2_connected": 0}, 0.4), ({"l2_connected": 1}, 0.3)),
    "supply off and on": ((LOADED, 0.4), ({"supply_on": 0}, 0.05), ({"supply_on": 1}, 0.4)),
    "plugging": ((LIGHT, 0.3), ({"phase_order": -1}, 0.5)),
    "broken bar, unbalance": (({**LOADED, "broken_bar": 0.5, "l3_percent": 80}, 0.8),),
    "bent supply": (
        ({**LOADED, "harmonic_5_percent": 20, "flicker_percent": 10, "source_ohm": 2, "source_h": 0.01}, 0.8),
    ),
    "star, delta": (
        ({**LIGHT, "mains_v": 230}, 0.4),
        ({"supply_on": 0}, 0.05),
        ({"delta": 1, "supply_on": 1, "source_ohm": 0.5, "source_h": 0.002}, 0.4),
        ({"supply_on": 0}, 0.1),
    ),
    "supply changed while it runs": ((LOADED, 0.3), ({"source_h": 0.1}, 0.0333), ({"source_h": 0.01}, 0.2)),
    "direct current": (({**LIGHT, "mains_v": 0, "direct_v": 100}, 0.3), ({"supply_on": 0}, 0.2)),
    "turned by hand": (({"load_factor": 0.0, "turned_by_hand": 1, "hand_rpm": 300}, 0.2), ({"supply_on": 1}, 0.3)),
}


@pytest.mark.parametrize("story", STORIES)
def test_what_comes_in_is_lost_leaves_through_the_shaft_or_is_stored(story: str) -> None:
    energy = played(*STORIES[story])[0].energy
    throughput = abs(energy.input) + abs(energy.shaft)
    assert energy.input == pytest.approx(energy.lost + energy.shaft + energy.stored, abs=0.005 * throughput)
    assert energy.lost > 0


def test_half_the_step_changes_nothing_in_the_digits_of_the_tables() -> None:
    rows: list[dict[str, float]] = [
        {"load_torque_n_m": 10},
        {"load_torque_n_m": 10, "l1_percent": 95},
        {"jammed": 1},
        {"broken_bar": 0.1},
    ]
    blocks = []
    for steps in (1, 2):
        cases, states = batch(MODEL, [(SLIPWAY_PUMP, row) for row in rows], load_factor=0.0)
        blocks.append(run(MODEL, cases, states, 0.6, RATE_HZ, steps))
    whole, half = blocks
    assert whole.speed_rad_s[:, -1] == pytest.approx(half.speed_rad_s[:, -1], rel=1e-5)
    assert rms(whole.values[:, :, -2000:]) == pytest.approx(rms(half.values[:, :, -2000:]), rel=1e-4)
    assert np.abs(whole.values[:, 3:]).max(axis=2) == pytest.approx(np.abs(half.values[:, 3:]).max(axis=2), rel=5e-3)


@pytest.mark.parametrize("line", [1, 2, 3])
def test_a_line_parts_at_a_zero_of_its_current_and_the_motor_runs_on_two(line: int) -> None:
    _, (before, lost, back) = played((LOADED, 0.5), ({f"l{line}_connected": 0}, 1.0), ({f"l{line}_connected": 1}, 1.0))
    i = np.abs(lost.values[2 + line])
    parted = int(np.argmax(lost.truths[2 + line] == 0))
    assert 0 < parted <= 101  # within half a cycle
    assert i[parted - 1] < 0.05 * np.abs(before.values[2 + line]).max() + 0.3  # small just before: it parts at the zero
    assert i[parted:].max() < 1e-9
    others = [k for k in (3, 4, 5) if k != 2 + line]
    assert lost.values[others[0], parted:] == pytest.approx(-lost.values[others[1], parted:], abs=1e-9)
    assert 1300 < lost.speed_rad_s[-200:].mean() * 30 / pi < 1420
    # While it runs, the motor itself makes most of the missing voltage.
    assert rms(lost.values[line - 1, -2000:]) > 0.5 * 400 / sqrt(3)
    assert rms(back.values[3:, -2000:]) == pytest.approx(rms(before.values[3:, -2000:]), rel=1e-3)


def test_switched_off_its_own_voltage_turns_with_the_shaft_and_dies_with_the_cage() -> None:
    """82 ms: the reference sheet's decay of the pump's own voltage; L_r / R_r."""
    _, (_, off) = played((LIGHT, 0.5), ({"supply_on": 0}, 0.4))
    late = slice(300, None)
    assert not np.any(off.truths[3:6, late])
    vector = np.abs(np.exp(2j * pi / 3 * np.arange(3)) @ off.values[:3, late]) * 2 / 3
    shaft = vector / off.speed_rad_s[late]
    decay_s = -1 / np.polyfit(np.arange(shaft.size) / RATE_HZ, np.log(shaft), 1)[0]
    assert decay_s == pytest.approx(0.082, rel=0.02)
    assert np.abs(off.values[3:, late]).max() < 1e-9


def test_exchanging_any_two_lines_reverses_it() -> None:
    motor, (forward, backward) = played((LIGHT, 0.3), ({"phase_order": -1}, 0.6))
    assert forward.speed_rad_s[-1] == pytest.approx(-backward.speed_rad_s[-1], rel=1e-3)
    assert np.abs(backward.values[3:, :400]).max() > 26.6  # plugging draws more than a start
    assert motor.state in (0, 1)


def test_in_star_a_start_takes_a_third_of_the_current_and_gives_a_third_of_the_torque() -> None:
    """Textbook rule of the star-delta start; on 230 V, for which the pump's delta is meant."""
    rows = [{"jammed": 1, "mains_v": 230, "delta": delta} for delta in (0, 1)]
    cases, states = batch(MODEL, [(SLIPWAY_PUMP, row) for row in rows])
    block = run(MODEL, cases, states, 0.8, RATE_HZ)
    amps, torque = rms(block.values[:, 3:, -2000:]), block.torque_n_m[:, -2000:].mean(axis=1)
    assert amps[1] / amps[0] == pytest.approx(np.full(3, 3.0), rel=1e-3)
    assert torque[1] / torque[0] == pytest.approx(3, rel=1e-3)


def test_delta_on_230_v_is_star_on_400_v() -> None:
    rows: list[dict[str, float]] = [
        {"load_torque_n_m": 10},
        {"load_torque_n_m": 10, "mains_v": 400 / sqrt(3), "delta": 1},
    ]
    cases, states = batch(MODEL, [(SLIPWAY_PUMP, row) for row in rows])
    block = run(MODEL, cases, states, 0.8, RATE_HZ)
    star, delta = rms(block.values[:, 3:, -2000:])
    assert delta / star == pytest.approx(np.full(3, sqrt(3)), rel=1e-4)
    assert block.speed_rad_s[1, -1] == pytest.approx(block.speed_rad_s[0, -1], rel=1e-5)
    assert rms(block.values[1, 0, -2000:]) == pytest.approx(400 / 3, rel=1e-4)


def test_delta_takes_hold_only_while_the_lines_are_open() -> None:
    _, (_, kept, _, taken) = played(
        ({**LIGHT, "mains_v": 230}, 0.4), ({"delta": 1}, 0.1), ({"supply_on": 0}, 0.05), ({"supply_on": 1}, 0.2)
    )
    assert not np.any(kept.truths[6])
    assert np.all(taken.truths[6] == 1)


def test_slots_and_eccentricity_show_where_the_formula_says() -> None:
    """4 poles, 50 Hz, 28 bars, slip 3 %: 629 and 729 Hz, 25.75 and 74.25 Hz (formula, from memory)."""
    held = replace(SLIPWAY_PUMP, inertia_kg_m2=1e9, core_ohm=1e12)
    cases, states = batch(MODEL, [(held, {"slot_percent": 0.5, "eccentricity_percent": 0.2})])
    states["speed_rad_s"] = 0.97 * 1500 * pi / 30
    run(MODEL, cases, states, 1.0, RATE_HZ)
    i = run(MODEL, cases, states, 4.0, RATE_HZ, first=10_000).values[0, 3]
    assert [bin_db(i, hertz, RATE_HZ) for hertz in (629, 729)] == pytest.approx([-46.02, -46.02], abs=0.1)
    assert [bin_db(i, hertz, RATE_HZ) for hertz in (25.75, 74.25)] == pytest.approx([-53.98, -53.98], abs=0.1)
    assert bin_db(i, 640, RATE_HZ) < -90


def test_a_broken_bar_of_a_60_hz_motor_at_1775_rpm_stands_100_pole_passes_a_minute_away() -> None:
    """A page on pole passes, read as a secondary source: four poles, 60 Hz, 1775 r/min, 100 a minute."""
    held = replace(SLIPWAY_PUMP, inertia_kg_m2=1e9, core_ohm=1e12)
    cases, states = batch(MODEL, [(held, {"broken_bar": 0.1, "mains_hz": 60})])
    states["speed_rad_s"] = 1775 * pi / 30
    run(MODEL, cases, states, 2.0, 2000.0)
    i = run(MODEL, cases, states, 12.0, 2000.0, first=4000).values[0, 3]
    levels = np.array([abs(tone(i, 60 - apart, 2000.0)) for apart in np.arange(0.5, 4.0, 1 / 12)])
    assert np.arange(0.5, 4.0, 1 / 12)[np.argmax(levels)] * 60 == pytest.approx(100, abs=5)


@pytest.mark.parametrize(
    ("poles", "hertz", "rpm"), [(2, 50, 3000), (2, 60, 3600), (4, 50, 1500), (6, 60, 1200), (8, 50, 750)]
)
def test_unloaded_it_runs_just_below_the_synchronous_speed_of_the_printed_table(
    poles: int, hertz: float, rpm: float
) -> None:
    """A table of synchronous speeds, read as a secondary source."""
    motor = replace(SLIPWAY_PUMP, pole_pairs=poles // 2)
    cases, states = batch(MODEL, [(motor, {"mains_hz": hertz, "load_factor": 0})])
    n = run(MODEL, cases, states, 1.5, RATE_HZ).speed_rad_s[0, -1] * 30 / pi
    assert 0.99 * rpm < n < rpm


def test_on_direct_current_it_takes_u_over_r_and_stands() -> None:
    """L1 against L2 and L3 together: U / (1.5 R)."""
    _, (trace,) = played(({**LIGHT, "mains_v": 0, "direct_v": 30}, 1.0))
    assert trace.values[3:, -1] == pytest.approx(30 / (1.5 * 6.3) * np.array([1, -0.5, -0.5]), rel=0.02)  # core
    assert abs(trace.speed_rad_s[-1]) < 0.01


def test_harmonics_of_the_supply_flow_through_the_leakages_alone() -> None:
    """I_h = U_h / (h X_leak) (reference sheet, harmonic supply); a third harmonic has no way without a neutral."""
    rows = [{"harmonic_7_percent": 10.0, "load_torque_n_m": 5.0}, {"harmonic_3_percent": 10.0, "load_torque_n_m": 5.0}]
    cases, states = batch(MODEL, [(replace(SLIPWAY_PUMP, core_ohm=1e12), row) for row in rows], load_factor=0.0)
    i = run(MODEL, cases, states, 1.0, RATE_HZ).values[:, 3, -2000:]
    leakage_ohm = 2 * pi * 350 * (0.0124 + 0.0124)
    assert abs(tone(i[0], 350, RATE_HZ)) == pytest.approx(0.1 * 400 * sqrt(2 / 3) / leakage_ohm, rel=0.05)
    assert abs(tone(i[1], 150, RATE_HZ)) < 1e-3


def test_the_impedance_of_the_supply_lowers_the_terminals() -> None:
    rows = [{"jammed": 1, "source_ohm": 2.0, "source_h": 0.01, "delta": delta} for delta in (0.0, 1.0)]
    cases, states = batch(MODEL, [(replace(SLIPWAY_PUMP, core_ohm=1e12), row) for row in rows])
    v = run(MODEL, cases, states, 1.0, RATE_HZ).values[:, :, -2000:]
    for star_or_delta in v:
        u, i = tone(star_or_delta[0], 50, RATE_HZ), tone(star_or_delta[3], 50, RATE_HZ)
        assert abs(u + i * (2 + 2j * pi * 50 * 0.01)) == pytest.approx(400 * sqrt(2 / 3), rel=1e-3)


def test_a_cage_50_k_warmer_slips_20_percent_more() -> None:
    """Reference sheet: 50 K on an aluminium cage raise the slip by about 20 %."""
    cases, states = batch(MODEL, [(SLIPWAY_PUMP, {"resistance_follows": 1, "load_torque_n_m": 5})] * 2, load_factor=0)
    states["winding_c"] = 20, 70
    cold, warm = run(MODEL, cases, states, 0.6, RATE_HZ).speed_rad_s[:, -1] * 30 / pi
    assert (1500 - warm) / (1500 - cold) == pytest.approx(1.2, abs=0.03)


def test_loaded_it_settles_where_its_losses_leave_through_the_case() -> None:
    """Steady heat: the case is as much warmer than the air as all losses times its resistance to it."""
    thermal = replace(SLIPWAY_PUMP.thermal, winding_j_k=1, case_j_k=10)  # warms within seconds
    cases, states = batch(MODEL, [(replace(SLIPWAY_PUMP, thermal=thermal), {"load_torque_n_m": 10})], load_factor=0)
    before = run(MODEL, cases, states, 10.0, 2000.0)
    lost_j = states["energy_j"][0, 1]
    block = run(MODEL, cases, states, 1.0, 2000.0, first=20_000)
    lost_w = states["energy_j"][0, 1] - lost_j
    assert block.truths[0, 1, -1] - 20 == pytest.approx(lost_w * 0.11, rel=0.01)
    assert block.truths[0, 0, -1] > block.truths[0, 1, -1] > before.truths[0, 1, 0]
