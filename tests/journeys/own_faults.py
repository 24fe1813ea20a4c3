"""Faults of our own, put into the program: `python -m tests.journeys.own_faults serve ...` is the service with them.

A family of quantities and the readings of the shaft raise always, a whole group of channels where the motor is of three
phases. What is then said of the readings must reach the page as any other reason does.
"""

import sys
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from typing import Any
from unittest.mock import patch

from server import watch
from server.__main__ import main
from server.quantities import window, window_analysis
from server.quantities.power import power_readings

PROGRAM = "tests.journeys.own_faults"
PHRASES = ("our own fault: computing it failed (", "readings of the shaft", "readings of group")


@contextmanager
def put_in() -> Iterator[None]:
    """They are in as long as this lasts."""
    analysed = window_analysis

    def family(a: Any) -> Any:
        return power_readings(a) if a.partial else failing()

    def group(samples: Any, motor: Any, roles: Any) -> Any:
        three = motor is not None and motor.key == "three_phase_induction"
        return failing() if three else analysed(samples, motor, roles)

    faults = ((window, "power_readings", family), (watch, "shaft_readings", failing), (watch, "window_analysis", group))
    with ExitStack() as stack:
        for where, name, instead in faults:
            stack.enter_context(patch.object(where, name, instead))
        yield


def failing(*_: Any) -> Any:
    raise ZeroDivisionError("made for a test")


if __name__ == "__main__":
    with put_in():
        sys.exit(main())
