"""A spectrum begins anew when the motor is switched on or off or reversed: from the wire bytes to the answer."""

import numpy as np
import pytest

from server.live.spectrum import Spectrum, spectrum_of
from server.live.steadiness import Steadiness
from server.live.view import View
from server.pipeline import Output
from server.readings import Event, Fast, StateChange
from server.web.spectrum_api import spectrum_answer
from tests.server.pipelines import run
from tests.server.tiny_board import TinyBoard

REST, START, RUN = (1.2, 0.0, 0.0, 0.0), (0.4, 230.0, 1.5, 1400.0), (1.6, 230.0, 0.5, 1400.0)


def watched(*story: tuple[float, float, float, float]) -> View:
    view = View("bench")
    for output in run(TinyBoard().wire(story)):
        for part in output.parts:
            view.take(part, part.clock)
    return view


def spectrum(view: View) -> Spectrum | str:
    line = view.lines.current
    assert line is not None
    return spectrum_of(line, view.steadiness.since_s, view.steadiness.words)


def test_after_switching_off_nothing_of_the_running_motor_is_in_it() -> None:
    view = watched(REST, START, RUN, (0.6, 0.0, 0.0, 1000.0))
    found = spectrum(view)
    assert isinstance(found, Spectrum)
    assert found.rms.max() < 0.01
    assert found.resolution_hz > 3.0  # of less than two thirds of a second
    line = view.lines.current
    assert line is not None
    mixed = spectrum_of(line)
    assert isinstance(mixed, Spectrum)
    assert mixed.rms.max() > 0.1  # what a second would hold


def test_after_switching_on_it_is_as_high_as_the_motor_draws() -> None:
    found = spectrum(watched(REST, START, RUN))
    assert isinstance(found, Spectrum)
    assert found.rms.max() == pytest.approx(0.5, rel=0.05)


def test_until_there_is_enough_it_says_since_what_and_how_much() -> None:
    view = watched(REST, START, RUN, (0.2, 0.0, 0.0, 1000.0))
    answer = spectrum_answer(view, 400.0, 100)
    assert str(answer["reason"]).startswith("needs 0.2 s of samples since it ")
    assert str(answer["reason"]).endswith(" s so far")
    assert "rms" not in answer


def test_a_reversal_counts_and_so_does_a_change_told_late_but_not_one_of_before() -> None:
    steadiness = Steadiness()
    steadiness.take(Output(events=(Event("reversed", 7.0, "Reversed"), Event("load_step", 9.0, "Load"))))
    assert (steadiness.since_s, steadiness.words) == (7.0, "it was reversed")
    none = np.empty(0)
    late = StateChange(6.0, 8.0, "resting"), StateChange(8.0, 9.5, "unknown")
    steadiness.take(Output(fast=(Fast(none, none, none, none, late),)))
    assert steadiness.since_s == 7.0
    steadiness.take(Output(anew=True))
    assert steadiness.since_s == -np.inf
