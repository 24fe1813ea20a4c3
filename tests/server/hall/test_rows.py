"""Speed at many moments at once: for the strip, and for run states."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from server.config import Plate
from server.hall import edge_readings, speed_rows
from tests.server.hall.shafts import HALLS, pulse_input, pulses, train, turning

TENS = np.arange(10_000, 1_000_001, 10_000)  # every 10 ms of a second
SEVEN = Plate(pole_pairs=7)


def test_a_steady_shaft_reads_the_same_in_every_row() -> None:
    edges = turning(1500, 7, 1100)
    assert speed_rows(train(HALLS, edges, before=4), TENS[1:], SEVEN) == pytest.approx(1500.0, rel=1e-3)
    backward = turning(-1500, 7, 1100)
    assert speed_rows(train(HALLS, backward, before=1), TENS[1:], SEVEN) == pytest.approx(-1500.0, rel=1e-3)


def test_rows_are_nan_before_the_first_edges_and_without_inputs() -> None:
    assert np.isnan(speed_rows(train(HALLS, [], before=4), TENS[:20], Plate(pole_pairs=1))).all()
    assert np.isnan(speed_rows(train((), []), TENS, SEVEN)).all()
    assert np.isnan(speed_rows(train(HALLS, turning(1500, 7, 100), before=4), TENS, Plate())).all()


def test_a_start_from_rest_begins_at_zero_and_follows_the_shaft() -> None:
    # At rest since 5 s before; then 30 rev/s^2 from 0.2 s on: angle = 15 t^2 turns, 6 edges a turn with one pole pair.
    k = np.arange(1, 60)
    times_s = 0.2 + np.sqrt(k / 6 / 15)
    edges = [(round(time * 1e6), (5, 1, 3, 2, 6, 4)[index % 6]) for index, time in enumerate(times_s)]
    rows = speed_rows(train(HALLS, edges, before=4, known_from=-5_000_000), TENS, Plate(pole_pairs=1))
    moments_s = TENS / 1e6
    truth = np.where(moments_s > 0.2, 60 * 30 * (moments_s - 0.2), 0.0)
    assert (rows[:20] == 0).all()
    late = moments_s > times_s[7]
    until = moments_s < times_s[-1]
    # An electrical turn is read half of it late: below the truth, by at most the rise over the turn and the sector.
    assert (rows[late & until] <= truth[late & until]).all()
    turn_s = np.interp(moments_s, times_s[7:], times_s[7:] - times_s[:-7])
    assert (rows[late & until] >= (truth - 60 * 30 * turn_s)[late & until]).all()
    early = (moments_s > times_s[2]) & ~late
    assert (rows[early] > 0.4 * truth[early]).all()  # the turn that began at rest does not hold it down


def test_after_the_last_edge_the_rows_fall_to_zero() -> None:
    edges = turning(1500, 7, 106)  # until 0.1 s
    rows = speed_rows(train(HALLS, edges, before=4), TENS, SEVEN)
    after = TENS / 1e6 - edges[-1][0] / 1e6
    falling = (after > 0.02) & (after < 10 / 7 / 2.6)
    assert rows[falling] == pytest.approx(10 / 7 / after[falling])
    assert (rows[after > 10 / 7 / 2.4] == 0).all()


def test_one_pulse_a_turn_gives_the_speed_of_the_last_turn() -> None:
    rows = speed_rows(train(pulse_input(), pulses(np.arange(24) * 60 / 1420)), TENS, Plate())
    assert np.isnan(rows[:4]).all()
    assert rows[5:95] == pytest.approx(1420.0, rel=1e-4)


def test_rows_that_rest_on_a_lost_stretch_are_nan_and_no_others() -> None:
    edges = turning(1500, 7, 1100)
    clean = speed_rows(train(HALLS, edges, before=4), TENS[1:], SEVEN)
    lost = [edge for edge in edges if not 500_000 <= edge[0] <= 520_000]
    damaged = speed_rows(train(HALLS, lost, before=4, uncertain=((500_000, 520_000),)), TENS[1:], SEVEN)
    same = damaged == clean
    assert (same | np.isnan(damaged)).all()
    assert 3 <= np.isnan(damaged).sum() <= 5  # three ticks in the stretch, and the electrical turn after it


@settings(max_examples=30, deadline=None)
@given(st.integers(1, 8), st.floats(60, 5000), st.integers(0, 10_000))
def test_a_row_says_what_the_reading_of_that_moment_says(pole_pairs: int, rpm: float, start: int) -> None:
    plate, edges = Plate(pole_pairs=pole_pairs), turning(rpm, pole_pairs, 600, start=start)
    listed = train(HALLS, edges, before=4)
    end = edges[-1][0] + 1
    row = float(speed_rows(listed, np.array([end]), plate)[0])
    (reading,) = (each for each in edge_readings(listed, end - 1000, end, plate).readings if each.key == "speed_rpm")
    assert reading.value == pytest.approx(row)
