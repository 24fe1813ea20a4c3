"""What is concluded of a run is told with what a person calls the leads."""

import pytest

from server.config import Plate, Wires
from server.live.view import View
from server.motors import motor_type
from server.pipeline import Output
from server.quantities.commutation import RECTIFIED, SECTOR_CURRENTS, SUM
from server.readings import Reading
from server.verdicts.phase_currents import phase_verdict
from server.verdicts.rule import Look
from tests.server.live.blocks import Sync
from tests.server.live.views import seen


@pytest.mark.parametrize(("called", "said"), [("yellow", "W (yellow)"), (r"gr\1", r"W (gr\1)"), ("", "W")])
def test_a_phase_that_a_verdict_is_about_is_called_by_its_letter_and_the_persons_word(called: str, said: str) -> None:
    motor, view = motor_type("brushless"), View("bench")
    assert motor is not None
    # The lead of W is off: only the pair U V carries, a third of the turn.
    sectors = Reading(SECTOR_CURRENTS, (4.0, 0.0, 0.0, 4.0, 0.0, 0.0))
    currents = sectors, Reading(RECTIFIED, (1.3, 1.3, 0.0)), Reading(SUM, 0.01)
    told = phase_verdict(Look(1.0, {each.id: each for each in currents}, motor, Plate(current_a=8.0)))
    assert told is not None
    view.wires = Wires(hall_a="blue", lead_u="red", lead_w=called)
    view.take(Output(verdicts=(told,)), Sync())
    (shown,) = seen(view)["verdicts"]
    assert shown["answer"].startswith(f"Phase {said} carries no current: its lead is off")
    assert shown["next_test"]["text"].startswith(f"Look at the lead of {said};")
    assert "below 1 V on the link" in shown["next_test"]["caution"]
