import numpy as np
import pytest

from server.live.cycle import Cycle
from server.readings import Fast

UTC = 1_000_000.0


class Bench:
    """Rows of 10 ms; `current(board_s)` says what flows."""

    def __init__(self) -> None:
        self.cycle, self.rows = Cycle(), 0

    def run(self, seconds: float, amperes: float) -> None:
        count = round(seconds * 100)
        t = np.arange(self.rows + 1, self.rows + count + 1, dtype=np.float64) * 0.01
        self.rows += count
        self.cycle.take(Fast(t, np.full(count, 230.0), np.full(count, amperes), np.full(count, 1400.0)))

    @property
    def now_s(self) -> float:
        return self.rows * 0.01

    def enter(self, state: str) -> None:
        self.cycle.enter(state, self.now_s, UTC + self.now_s)


def test_there_is_no_strip_while_the_motor_rests() -> None:
    bench = Bench()
    bench.run(1.0, 0.0)
    bench.enter("resting")
    bench.run(5.0, 0.0)
    assert bench.cycle.strip is None


def test_the_strip_begins_where_the_current_rose_not_where_it_was_told() -> None:
    bench = Bench()
    bench.run(3.0, 0.001)
    bench.enter("resting")
    bench.run(2.0, 0.001)
    bench.run(0.24, 1.3)
    bench.enter("starting")
    assert bench.cycle.strip is not None
    assert bench.cycle.strip.start_utc_s == pytest.approx(UTC + 5.0)
    assert bench.cycle.strip.end_s == pytest.approx(0.24)
    bench.run(0.26, 0.6)
    bench.enter("running")
    bench.run(1.0, 0.55)
    assert [span.state for span in bench.cycle.strip.states] == ["starting", "running"]


def test_a_cycle_ends_at_rest_and_the_next_start_begins_anew() -> None:
    bench = Bench()
    bench.enter("resting")
    bench.run(2.0, 0.0)
    for state in ("starting", "running", "coasting"):
        bench.run(0.1, 1.0)
        bench.enter(state)
    bench.run(1.0, 0.0)
    for _ in range(60):
        bench.enter("resting")
        bench.run(1.0, 0.0)
    first = bench.cycle.strip
    assert first is not None
    assert first.end_s == pytest.approx(2.3, abs=0.02)  # one second of rest is shown, not the hour after it
    bench.run(0.1, 1.0)
    bench.enter("starting")
    assert bench.cycle.strip is not first


@pytest.mark.parametrize("before", ["running", "stalled", "coasting", "unknown"])
def test_a_start_without_a_rest_before_it_belongs_to_the_same_cycle(before: str) -> None:
    bench = Bench()
    bench.enter("resting")
    bench.run(1.0, 0.0)
    bench.run(0.1, 1.0)
    bench.enter("starting")
    first = bench.cycle.strip
    bench.run(1.0, 1.0)
    bench.enter(before)
    bench.run(1.0, 1.0)
    bench.enter("starting")
    assert bench.cycle.strip is first


def test_a_motor_without_a_speed_sensor_that_is_switched_on_again_begins_anew() -> None:
    bench = Bench()
    bench.enter("resting")
    bench.run(1.0, 0.0)
    bench.run(0.1, 1.0)
    bench.enter("starting")
    first = bench.cycle.strip
    bench.run(1.0, 0.5)
    bench.enter("running")
    bench.run(2.0, 0.0)
    bench.enter("unknown")  # whether it still turns
    bench.run(0.1, 1.0)
    bench.enter("starting")
    assert bench.cycle.strip is not first


def test_a_service_that_came_late_draws_from_the_first_row() -> None:
    bench = Bench()
    bench.run(1.0, 0.5)
    bench.enter("running")
    bench.run(1.0, 0.5)
    assert bench.cycle.strip is not None
    assert bench.cycle.strip.end_s == pytest.approx(1.99)


def test_a_service_that_came_while_the_motor_started_still_finds_where_the_current_rose() -> None:
    bench = Bench()
    bench.run(1.0, 0.0)
    bench.run(0.2, 1.0)
    bench.enter("starting")
    assert bench.cycle.strip is not None
    assert bench.cycle.strip.end_s == pytest.approx(0.2)


def test_a_motor_whose_state_cannot_be_told_is_drawn_all_the_same() -> None:
    bench = Bench()
    bench.run(1.0, 0.5)
    bench.enter("unknown")
    assert bench.cycle.strip is not None


def test_a_board_that_began_anew_goes_on_by_the_clock_with_a_gap() -> None:
    bench = Bench()
    bench.enter("resting")
    bench.run(1.0, 0.0)
    bench.run(0.3, 1.0)
    bench.enter("starting")
    bench.rows = 0
    bench.cycle.restart(0.0, UTC + 7.0)
    bench.run(1.0, 1.0)
    strip = bench.cycle.strip
    assert strip is not None
    assert strip.end_s == pytest.approx(UTC + 8.0 - strip.start_utc_s)
    assert len(strip.gaps) == 1
