"""Controls: what they are called, and what they may be; traces, and that nothing hangs on how the time is cut."""

from dataclasses import fields

import numpy as np
import pytest

from simulator.motors import MOTORS
from simulator.motors.motor import Motor, Trace

ON: dict[str, dict[str, float]] = {
    "brushless": {"duty": 0.7},
    "stepper": {"step_rate_hz": 500},
    "servo": {"reference_rad_s": 100},
}
SWING: dict[str, float] = {"load_swing_n_m": 1e-3, "load_swing_hz": 7.3}
FLICKER: dict[str, float] = {"flicker_percent": 10, "flicker_hz": 8.8, **SWING}
RUNS: list[tuple[str, dict[str, float]]] = [
    *((key, {}) for key in MOTORS),
    *((key, SWING) for key in ("stepper", "servo", "brushless")),
    *((key, FLICKER) for key in MOTORS if key not in ("stepper", "servo", "brushless")),
    ("brushless", {"hall_floating": 7}),
    ("brushless", {"hall_intermittent": 7, "hall_bursts_hz": 20}),
    ("brushless", {"hall_pulses": 7, "hall_pulses_hz": 1000}),
    ("split_phase", {"switch_worn": 1, "switch_opens_rpm": 300, "switch_closes_rpm": 200}),
    ("split_phase", {"start_device": 3, "cutout_fitted": 1, "resistance_follows": 1}),
    ("universal", {"triac_angle_deg": 70, "bad_bar": 1}),
    ("three_phase_induction", {"broken_bar": 0.1, "harmonic_5_percent": 10}),
]


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


@pytest.mark.parametrize(("key", "controls"), RUNS)
def test_the_same_controls_give_the_same_bits_however_the_time_is_cut(key: str, controls: dict[str, float]) -> None:
    whole, cut = Motor(MOTORS[key]), Motor(MOTORS[key])
    for motor in (whole, cut):
        motor.set(supply_on=1, **{**ON.get(key, {}), **controls})
    once = whole.advance(7_000)
    pieces = [cut.advance(samples) for samples in (1, 2, 32, 965, 6_000)]
    for field in fields(Trace):
        joined = np.concatenate([getattr(piece, field.name) for piece in pieces], axis=-1)
        assert getattr(once, field.name).tobytes() == joined.tobytes(), field.name
    assert once.edge_states.size > (0 if key == "stepper" else 2)
    assert whole.state == cut.state == once.edge_states[-1]
