"""The galley extractor against the project's own reference tables, computed independently of this model.

Tolerances belong to the tables: 2 % on settled figures, 5 % on times, 10 % on peaks.
"""

import numpy as np
import pytest

from simulator.motors.motor import Motor
from simulator.motors.shaded_pole import GALLEY_EXTRACTOR, MODEL
from tests.simulator.motors.cases import batch, rms, rpm, run
from tests.simulator.motors.induction import LINE_A, Row, check_points

COLUMNS = "speed_rpm slip_percent I P PF I_main I_aux T_air P_out eff"
POINTS: tuple[Row, ...] = (
    ("fan x1", GALLEY_EXTRACTOR, {},
     (2548, 15.06, 0.2788, 39.54, 0.6167, 0.2719, 0.09068, 0.03554, 6.636, 0.1678)),
    ("fan x0", GALLEY_EXTRACTOR, {"load_factor": 0},
     (2855, 4.843, 0.2435, 30.14, 0.5382, 0.2375, 0.1036, 0.01196, 0, 0)),
    ("207 V", GALLEY_EXTRACTOR, {"mains_v": 207},
     (2439, 18.7, 0.2621, 34.17, 0.6298, 0.2557, 0.07768, 0.03299, 5.818, 0.1703)),
    ("locked", GALLEY_EXTRACTOR, {"jammed": 1}, (0, 100, 0.3991, 56.37, 0.6141, 0.3922, 0.04998, 0.01081, 0, 0)),
)  # fmt: skip


def test_every_point_of_the_table_is_where_the_motor_settles() -> None:
    check_points(MODEL, COLUMNS, POINTS, 4.0)


def test_the_start_takes_as_long_and_as_much_as_the_table_says() -> None:
    motor = Motor(MODEL)
    motor.set(supply_on=1)
    trace = motor.advance(60_000)
    u, _, line_a, _ = trace.values[:, -4_000:]
    final = np.mean(trace.speed_rad_s[-4_000:])
    assert final * 30 / np.pi == pytest.approx(2548, rel=0.02)
    assert np.argmax(trace.speed_rad_s > 0.95 * final) / 20_000 == pytest.approx(0.9572, rel=0.05)
    assert np.max(np.abs(trace.values[LINE_A])) == pytest.approx(0.696, rel=0.10)
    assert rms(line_a) == pytest.approx(0.2791, rel=0.02)
    assert np.mean(u * line_a) == pytest.approx(39.6, rel=0.02)


@pytest.mark.parametrize("angle_deg", [0, 90, 180])
def test_it_turns_one_way_whichever_half_of_the_cycle_it_is_switched_on(angle_deg: float) -> None:
    """Common practice, no published source: no exchange of leads reverses it."""
    motor = Motor(MODEL)
    motor.set(supply_on=1, switching_angle_deg=angle_deg)
    assert rpm(motor.advance(40_000).speed_rad_s[-4_000:]) == pytest.approx(2548, rel=0.02)


def test_nothing_reverses_it() -> None:
    assert not {"auxiliary_reversed", "auxiliary_open"} & {control.name for control in MODEL.controls}


def test_switched_off_its_own_voltage_dies_within_some_tens_of_milliseconds() -> None:
    """The project's own reference tables: it decays with 15 ms, the ring closed, so slower than the cage alone."""
    motor = Motor(MODEL)
    motor.set(supply_on=1)
    motor.advance(60_000)
    motor.set(supply_on=0)
    u, _, line_a, ring_a = motor.advance(4_000).values
    off = int(np.argmax(line_a == 0))
    assert np.all(line_a[off:] == 0)
    first, later = rms(u[off + 20 : off + 420]), rms(u[off + 620 : off + 1_020])  # 30 ms apart: two time constants
    assert first > 20
    assert later / first == pytest.approx(np.exp(-30 / 15), rel=0.25)
    assert np.max(np.abs(ring_a[off : off + 200])) > 0.01


def test_its_slip_is_large_and_its_current_hardly_tells_running_from_standing() -> None:
    """Common practice, no published source: 8 to 20 % of slip, 1.2 to 1.8 times the rated current when locked."""
    sixty = MODEL.parameter_sets["galley_extractor_60_hz"]
    cases, states = batch(MODEL, [(GALLEY_EXTRACTOR, {}), (GALLEY_EXTRACTOR, {"jammed": 1.0}), (sixty, {})])
    block = run(MODEL, cases, states, 3.0)
    running, sixty_rpm = float(rpm(block.speed_rad_s[0, -4_000:])), float(rpm(block.speed_rad_s[2, -4_000:]))
    assert 8 < 100 * (1 - running / 3000) < 20
    assert sixty_rpm == pytest.approx(1.2 * running, rel=0.002)
    line_a = rms(block.values[:, LINE_A, -4_000:])
    assert 1.2 < line_a[1] / line_a[0] < 1.8
    assert line_a[2] == pytest.approx(line_a[0] * 230 / 120, rel=0.01)
