"""How long a start took."""

import pytest

from firmware_protocol import Samples
from tests.server.events.told import events
from tests.server.pipelines import run, wire
from tests.server.tiny_board import TinyBoard

START = ((1.0, 0.0, 0.0, 0.0), (0.5, 230.0, 1.5, 1400.0), (1.5, 230.0, 0.5, 1400.0))


def test_up_to_speed_is_95_percent_of_the_speed_at_which_it_settled() -> None:
    (found,) = events(START, "running")
    assert found.text.startswith("Up to speed after 0.4")  # 95 % of a ramp of 0.5 s is 0.475 s
    assert float(found.text.split()[-2]) == pytest.approx(0.475, abs=0.02)
    assert found.board_s == pytest.approx(1.0 + 0.475, abs=0.03)  # the moment itself, not when it was told
    assert found.detail in tuple(f"95 % of {n} r/min, from its first current" for n in (1400, 1401))  # whole ticks


def test_without_a_speed_sensor_it_is_said_since_when_it_runs_steadily() -> None:
    blind = ((11.0, 0.0, 0.0, 0.0), *START[1:])
    (found,) = events(blind, "running", TinyBoard(inputs=()))
    # Told 0.4 s later, in which the mean of ten cycles settles.
    assert float(found.text.split()[2]) == pytest.approx(0.5, abs=0.02)
    assert found.text.startswith("Ran steadily ")


def test_a_motor_that_ran_when_the_stream_began_tells_of_no_start() -> None:
    assert events(((0.2, 230.0, 0.5, 1400.0), (2.0, 230.0, 0.5, 1400.0)), "running") == []


def test_a_time_in_which_samples_are_missing_says_so() -> None:
    said = TinyBoard().messages(START)
    holed = [each for each in said if not (isinstance(each, Samples) and 1_150_000 < each.tick < 1_200_000)]
    told = [each for part in run(wire(holed)) for each in part.events if each.kind == "running"]
    assert [each.text.startswith("Up to speed after ") for each in told] == [True]
    assert told[0].detail.endswith(" r/min, from its first current; samples are missing in between")
