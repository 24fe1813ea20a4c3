"""Three lines, from the wire bytes of a three-phase pump to the words, each way of connecting them wrongly."""

import pytest

from server.connection import Correctness
from server.readings import Confidence
from simulator.bench import bench_motor
from tests.server.connection.boards import seeing, told, told_right, turned

PUMP = "slipway_pump"
SECONDS = 2.5  # the motor is switched on after one


def test_a_board_that_is_connected_as_meant_is_right_in_everything() -> None:
    right = told_right(PUMP, SECONDS)
    assert {each.verdict for each in right.findings} == {Correctness.RIGHT}
    assert right.readings["active_power_w"].confidence is Confidence.GOOD
    order = right.finding("phase_order")
    assert order.text == "Voltages and currents came in the order L1 L2 L3."


def test_a_current_sensor_that_is_turned_round_is_named_and_its_powers_are_doubtful() -> None:
    found = told(bench_motor(PUMP), SECONDS, I_L2=turned)
    assert found.wrong() == {("arrow", "L2"), ("current_sum", "")}
    arrow = found.finding("arrow", "current", "L2")
    assert arrow.text.endswith("° behind its voltage. Is the current sensor of L2 turned round?")
    assert arrow.change == "Turn the current sensor of L2 round."
    summed = found.finding("current_sum")
    assert "200 % of their mean; with that of L2 turned round they would add up to nothing." in summed.text
    for key in ("active_power_w.L2", "power_factor.L2", "active_power_w"):
        assert found.readings[key].confidence is not Confidence.GOOD
        assert found.readings[key].reason.endswith("the current of L2 seems turned round: power negative")
    assert found.readings["active_power_w.L1"].confidence is Confidence.GOOD
    assert found.readings["current_rms_a.L2"].confidence is Confidence.GOOD


def test_a_voltage_probe_that_is_turned_round_is_named_by_the_sum_of_the_voltages() -> None:
    found = told(bench_motor(PUMP), SECONDS, U_L3=turned)
    assert found.wrong() == {("probe", "L3")}
    probe = found.finding("probe", "voltage", "L3")
    assert probe.text.endswith("with that of L3 turned round to nothing. Are the ends of its probe exchanged?")
    assert probe.change == "Exchange the two ends of the probe of L3."
    assert found.readings["active_power_w.L3"].reason == "the voltage of L3 seems turned round"


@pytest.mark.parametrize("kind", ["I", "U"])
def test_two_channels_that_are_exchanged_show_in_order_and_angles(kind: str) -> None:
    unit = "a" if kind == "I" else "v"
    found = told(seeing(PUMP, **{f"{kind}_L1": f"l2_{unit}", f"{kind}_L2": f"l1_{unit}"}), SECONDS)
    assert found.wrong() == {("same_phase", "L1"), ("same_phase", "L2"), ("phase_order", "")}
    one = found.finding("same_phase", "current", "L1")
    assert one.change == "Exchange the current sensors of L1 and L2, or their voltage probes."
    order = found.finding("phase_order")
    voltages, currents = ("L1 L2 L3", "L1 L3 L2") if kind == "I" else ("L1 L3 L2", "L1 L2 L3")
    assert order.text == f"Voltages came in the order {voltages}, currents in the order {currents}."
    assert found.finding("arrow", "current", "L1").verdict is Correctness.RIGHT
    assert found.readings["active_power_w.L1"].reason == "the current of L1 seems to be that of L2"
    assert found.readings["active_power_w.L3"].confidence is Confidence.GOOD


def test_two_sensors_round_the_same_conductor_are_told_apart() -> None:
    found = told(seeing(PUMP, I_L2="l1_a"), SECONDS)
    assert found.wrong() == {("same_phase", "L2"), ("current_sum", "")}
    change = "Put the current sensor of L2 round the conductor of L2: it seems to be round L1."
    assert found.finding("same_phase", "current", "L2").change == change
    change = "Look whether each sensor is round its own conductor alone, and whether ranges and scales are right."
    assert found.finding("current_sum").change == change


def test_all_sensors_turned_round_are_told_once_the_motor_slips() -> None:
    found = told(bench_motor(PUMP), SECONDS, I_L1=turned, I_L2=turned, I_L3=turned)
    assert {("arrow", line) for line in ("L1", "L2", "L3")} <= found.wrong()
    assert found.finding("current_sum").verdict is Correctness.RIGHT


def test_a_lost_line_is_no_wrong_connection() -> None:
    assert told_right(PUMP, 9.0, "phase lost in the run").wrong() == set()


def test_before_the_motor_runs_it_says_what_would_tell() -> None:
    waiting = told_right(PUMP, 1.0)
    arrow = waiting.finding("arrow", "current", "L1")
    assert arrow.verdict is Correctness.UNKNOWN
    assert arrow.change == "run the motor, unloaded or loaded, not braking"
    assert waiting.wrong() == set()
