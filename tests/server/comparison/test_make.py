"""A stretch of a run: rows from power on, wherever the reading began, and a run that cannot be read says so."""

from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest

from server.comparison.make import NEAR_S, stretch_of
from server.comparison.start import Wanted
from server.runs.beside import write_digest
from server.runs.library import Library
from server.runs.sum_up import summed_up
from tests.server.runs.recordings import OPENED_UTC_S, recorded_run

LATE = ((NEAR_S + 4.0, 0.0, 0.0, 0.0), (0.4, 230.0, 1.5, 0.0), (4.0, 230.0, 0.5, 1400.0))
ON_UTC_S = OPENED_UTC_S + NEAR_S + 4.0


@pytest.fixture
def library(tmp_path: Path) -> Iterator[Library]:
    made = Library(tmp_path / "runs")
    yield made
    made.close()


def test_rows_are_those_from_power_on_whether_the_run_is_played_from_its_beginning_or_jumped_into(
    library: Library,
) -> None:
    run = library.folder / recorded_run(library, story=LATE)
    wanted = Wanted("power_on", ON_UTC_S, 0.0, 1.2)
    whole = stretch_of(run, wanted)
    write_digest(run, summed_up(run))
    jumped = stretch_of(run, wanted)
    current = np.array(jumped["current_a"], dtype=float)
    assert len(current) == 120
    assert current[5:35] == pytest.approx(1.5, rel=0.05)  # the tiny board's start draws that for 0.4 s, then a third
    assert current[50:] == pytest.approx(0.5, rel=0.05)
    assert np.array(whole["current_a"], dtype=float)[2:] == pytest.approx(current[2:], rel=1e-6, nan_ok=True)
    assert jumped["switch_s"] == [None, None, "no channel measures the auxiliary current"]


def test_before_another_event_there_are_rows_too_and_what_did_not_come_is_null(library: Library) -> None:
    run = library.folder / recorded_run(library, story=((0.5, 0.0, 0.0, 0.0), (2.0, 230.0, 0.5, 1400.0)))
    told = stretch_of(run, Wanted("power_off", OPENED_UTC_S + 0.5, 1.0, 3.0))  # no such event came
    assert (told["from_s"], told["step_s"], len(told["current_a"])) == (-1.0, 0.01, 400)
    assert told["current_a"][:40] == [None] * 40
    assert told["current_a"][200] == pytest.approx(0.5, rel=0.05)
    assert told["current_a"][-1] is None
