"""The reluctance clock drive against the project's own reference table and common facts of the trade.

The figures of the table were computed independently of this model. 2 % for steady values; at rest is below 20 r/min.
"""

from math import pi
from typing import Any

import numpy as np
import pytest

from simulator.motors.synchronous_reluctance import CLOCK_DRIVE_RELUCTANCE, CLOCK_DRIVE_RELUCTANCE_60_HZ, MODEL
from simulator.physics.stepping import Block
from tests.simulator.motors.cases import Floats, batch, rms, run
from tests.simulator.motors.test_synchronous import slow_pull_out_n_m

RATE_HZ = 10_000.0
LATE = slice(-2000, None)
# load: speed_rpm, speed_pp, I, I_main, I_aux, P, U_cap, T_air, PF
TABLE = {
    0.02: (750, 204.6, 0.02604, 0.02431, 0.04408, 5.721, 409, 0.02166, 0.955),
    0.0: (750, 248.4, 0.02274, 0.02776, 0.04568, 4.848, 421.8, 0.001657, 0.9272),
    0.06: (750, 106, 0.03443, 0.02346, 0.04054, 7.852, 378.8, 0.06166, 0.9916),
}


def figures(block: Block, case: int, samples: slice) -> Floats:
    """In the order of the table."""
    u, u_c, i, i_x = block.values[case, :, samples]
    n, watts = block.speed_rad_s[case, samples] * 30 / pi, np.mean(u * i)
    torque = block.torque_n_m[case, samples].mean()
    return np.array(
        [n.mean(), np.ptp(n), rms(i), rms(i + i_x), rms(i_x), watts, rms(u_c), torque, watts / (rms(u) * rms(i))]
    )


def stepped_on(loads: list[float], seconds: float) -> Block:
    """Loads above 60 mN.m come on at 1 s, after a start with 20."""
    first = [0.02 if load > 0.06 else load for load in loads]
    cases, states = batch(MODEL, [(CLOCK_DRIVE_RELUCTANCE, {"load_torque_n_m": load}) for load in first])
    run(MODEL, cases, states, 1.0, RATE_HZ)
    cases, _ = batch(MODEL, [(CLOCK_DRIVE_RELUCTANCE, {"load_torque_n_m": load}) for load in loads])
    return run(MODEL, cases, states, seconds, RATE_HZ, first=10_000)


def test_every_row_of_the_reference_table_in_step() -> None:
    block = stepped_on(list(TABLE), 1.0)
    for k, row in enumerate(TABLE.values()):
        assert figures(block, k, LATE) == pytest.approx(row, rel=0.02)
        assert figures(block, k, LATE)[0] == pytest.approx(750, rel=1e-4)


def test_pulled_out_by_110_mn_m_it_creeps_through_the_figures_of_the_table() -> None:
    """The row gives no instant; the standing rotor creeps on and its currents with it, so one moment has to agree."""
    row = np.array([0.06366, 0.07077, 0.02912, 14.03, 272.8, 0.05301, 0.9582])
    block = stepped_on([0.11], 4.0)
    worst = []
    for start in range(10_000, 38_000, 500):
        seen = figures(block, 0, slice(start, start + 2000))
        assert abs(seen[0]) < 20
        assert seen[1] < 10
        worst.append(np.abs(seen[2:] / row - 1).max())
    assert min(worst) < 0.02


def test_the_largest_sudden_and_the_largest_slow_load_are_the_tables() -> None:
    """0.08156 N.m sudden, 0.0825 slow."""
    block = stepped_on([0.98 * 0.08156, 1.02 * 0.08156], 2.0)
    n = block.speed_rad_s[:, LATE].mean(axis=1) * 30 / pi
    assert n[0] == pytest.approx(750, rel=1e-4)
    assert n[1] < 0.9 * 750
    assert slow_pull_out_n_m(CLOCK_DRIVE_RELUCTANCE, MODEL, 0.078, 0.09) == pytest.approx(0.0825, rel=0.02)


def test_exchanged_leads_of_the_auxiliary_reverse_it() -> None:
    cases, states = batch(MODEL, [(CLOCK_DRIVE_RELUCTANCE, {"load_torque_n_m": 0.02, "auxiliary_swapped": 1})])
    block = run(MODEL, cases, states, 1.5, RATE_HZ)
    assert block.speed_rad_s[0, LATE].mean() * 30 / pi == pytest.approx(-750, rel=1e-4)
    assert rms(block.values[0, 2, LATE]) == pytest.approx(0.02604, rel=0.02)


@pytest.mark.parametrize(
    ("motor", "hertz", "load"), [(CLOCK_DRIVE_RELUCTANCE, 50, 0.06), (CLOCK_DRIVE_RELUCTANCE_60_HZ, 60, 0.05)]
)
def test_in_step_its_speed_is_60_f_over_p_at_50_and_at_60_hz(motor: Any, hertz: float, load: float) -> None:
    """Eight poles: 750 and 900 r/min (a printed table, read as a secondary source)."""
    cases, states = batch(MODEL, [(motor, {"load_torque_n_m": load})])
    block = run(MODEL, cases, states, 1.5, 200 * hertz)
    assert block.speed_rad_s[0, -2000:].mean() * 30 / pi == pytest.approx(15 * hertz, rel=1e-4)


def test_locked_its_resistances_make_the_current_and_the_heat() -> None:
    """Common practice, no published source: two to three times its current with a cage, all of it heat."""
    cases, states = batch(MODEL, [(CLOCK_DRIVE_RELUCTANCE, {"jammed": 1, "resistance_follows": 1})])
    block = run(MODEL, cases, states, 1.0, RATE_HZ)
    assert 1.8 < rms(block.values[0, 2, LATE]) / 0.03443 < 3
    assert states["energy_j"][0, 0] == pytest.approx(states["energy_j"][0, 1], rel=0.01)
    assert block.truths[0, 0, -1] > 20.1


def test_half_the_step_changes_nothing_in_the_digits_of_the_table() -> None:
    late = []
    for steps in (4, 8):
        cases, states = batch(MODEL, [(CLOCK_DRIVE_RELUCTANCE, {"load_torque_n_m": load}) for load in TABLE])
        block = run(MODEL, cases, states, 1.0, RATE_HZ, steps)
        late.append([figures(block, k, LATE) for k in range(len(TABLE))])
    assert np.array(late[0]) == pytest.approx(np.array(late[1]), rel=5e-4)
