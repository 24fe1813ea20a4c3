"""Controls: what they are called, and what they may be."""

import pytest

from simulator.motors import MOTORS
from simulator.motors.motor import Motor

ON: dict[str, dict[str, float]] = {
    "brushless": {"duty": 0.7},
    "stepper": {"step_rate_hz": 500},
    "servo": {"reference_rad_s": 100},
}


@pytest.mark.parametrize("key", MOTORS)
def test_a_wrong_control_is_refused_with_the_nearest_name(key: str) -> None:
    with pytest.raises(ValueError, match="no control 'supply'; the nearest is 'supply_on'"):
        Motor(MOTORS[key]).set(supply=1)


@pytest.mark.parametrize("key", MOTORS)
@pytest.mark.parametrize("value", [-1.0, 2.0, float("nan")])
def test_a_value_out_of_its_range_is_refused_with_the_range(key: str, value: float) -> None:
    with pytest.raises(ValueError, match=r"jammed = \S+ is outside 0 to 1"):
        Motor(MOTORS[key]).set(jammed=value)


@pytest.mark.parametrize("key", MOTORS)
def test_a_refused_change_changes_nothing(key: str) -> None:
    left, right = Motor(MOTORS[key]), Motor(MOTORS[key])
    with pytest.raises(ValueError, match="no control"):
        left.set(supply_on=1, suply=1)
    assert left.advance(100).values.tobytes() == right.advance(100).values.tobytes()


@pytest.mark.parametrize("key", MOTORS)
def test_a_trace_has_one_row_for_each_signal_and_one_value_for_each_sample(key: str) -> None:
    motor = Motor(MOTORS[key], rate_hz=10_000.0)
    trace = motor.advance(37)
    assert trace.values.shape == (len(motor.model.signals), 37)
    assert trace.truths.shape == (len(motor.model.truths), 37)
    assert trace.speed_rad_s.shape == trace.torque_n_m.shape == trace.angle_rad.shape == (37,)


@pytest.mark.parametrize("key", MOTORS)
def test_the_same_controls_give_the_same_bits_however_the_time_is_cut(key: str) -> None:
    whole, cut = Motor(MOTORS[key]), Motor(MOTORS[key])
    on = {"supply_on": 1.0, **ON.get(key, {})}
    pieces = []
    for motor in (whole, cut):
        motor.set(**on)
    once = whole.advance(7_000)
    for samples in (1, 2, 32, 965, 6_000):
        pieces.append(cut.advance(samples))
    assert once.values.tobytes() == b"".join(
        row.tobytes() for k in range(len(whole.model.signals)) for row in (piece.values[k] for piece in pieces)
    )
    assert once.edge_times_s.tobytes() == b"".join(piece.edge_times_s.tobytes() for piece in pieces)
    assert once.edge_states.size > (0 if key == "stepper" else 2)
    assert whole.state == cut.state == once.edge_states[-1]
