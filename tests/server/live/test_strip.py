import numpy as np
import pytest
from numpy.typing import NDArray

from server.live.strip import COLUMNS_MAX, SPANS_MAX, Strip


def rows(begin: int, end: int) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
    """Rows begin to end of 10 ms; speed counts them, current is a wave with one tall row."""
    k = np.arange(begin, end, dtype=np.float64)
    return (k + 1) * 0.01, k, np.where(k == 77_777, 99.0, np.sin(k))


def arrays(strip: Strip, part: str) -> dict[str, NDArray[np.float32]]:
    record = strip.record()[part]
    assert isinstance(record, dict)
    return record


def test_the_first_second_and_a_half_is_kept_row_by_row() -> None:
    strip = Strip(1000.0)
    strip.take(*rows(0, 400))
    wide, rest = arrays(strip, "wide"), arrays(strip, "rest")
    assert wide["t"].size == 150
    np.testing.assert_allclose(wide["t"][[0, -1]], [0.01, 1.5], rtol=1e-6)
    np.testing.assert_array_equal(wide["speed"], np.arange(150))
    np.testing.assert_array_equal(rest["speed_low"], np.arange(150, 400))
    np.testing.assert_array_equal(rest["speed_high"], np.arange(150, 400))
    assert strip.record()["end_s"] == pytest.approx(4.0)


def test_twelve_hours_stay_within_the_columns_and_lose_no_extreme() -> None:
    strip, at, bytes_of = Strip(0.0), 0, set()
    total, step = 12 * 360_000, 997  # steps that fit no column
    while at < total:
        strip.take(*rows(at, min(at + step, total)))
        at += step
        if at > 100_000:
            columns = arrays(strip, "rest")["t"].size
            assert COLUMNS_MAX // 2 <= columns <= COLUMNS_MAX
            bytes_of.add(strip._rest.nbytes + strip._wide.nbytes)
    rest = arrays(strip, "rest")
    assert len(bytes_of) == 1
    assert rest["current_high"].max() == 99.0
    assert rest["speed_low"][0] == 150
    assert rest["speed_high"][-1] == total - 1
    np.testing.assert_array_equal(rest["speed_low"][1:], rest["speed_high"][:-1] + 1)  # no row twice, none left out
    assert rest["t"][-1] == pytest.approx(43_200.0)
    assert (np.diff(rest["t"]) > 0).all()


@pytest.mark.parametrize("sizes", [[1] * 3000, [7] * 430, [3000], [1, 2999], [1500, 1500]])
def test_the_columns_do_not_depend_on_how_the_rows_were_cut(sizes: list[int]) -> None:
    whole, cut, at = Strip(0.0), Strip(0.0), 0
    whole.take(*rows(0, sum(sizes)))
    for size in sizes:
        cut.take(*rows(at, at + size))
        at += size
    for part in ("wide", "rest"):
        for name, values in arrays(whole, part).items():
            np.testing.assert_array_equal(arrays(cut, part)[name], values)


def test_a_gap_is_told_and_no_line_can_cross_it() -> None:
    strip = Strip(0.0)
    strip.take(*rows(0, 100))
    strip.take(*rows(300, 400))
    strip.take(*rows(1000, 1010))
    np.testing.assert_allclose(np.array(strip.record()["gaps"]), [[1.0, 3.0], [4.0, 10.0]])
    rest = arrays(strip, "rest")
    assert np.isnan(rest["speed_low"]).sum() == 2
    assert np.isnan(rest["speed_low"][0])  # the wide part ends before the first gap does


def test_a_row_without_a_value_hides_no_other() -> None:
    strip = Strip(0.0)
    t, speed, current = rows(0, 3000)
    speed[200:220] = np.nan
    strip.take(t, speed, current)
    strip.take(*rows(3000, 3001))
    assert np.isnan(arrays(strip, "rest")["speed_low"]).sum() == 4  # of 4 rows each by then: 202 to 217
    assert not np.isnan(arrays(strip, "rest")["current_low"]).any()


def test_states_follow_each_other_and_their_number_is_bounded() -> None:
    strip = Strip(0.0)
    strip.enter("starting", -0.1)
    strip.take(*rows(0, 48))
    strip.enter("running", 0.48)
    strip.enter("running", 0.5)
    strip.take(*rows(48, 100))
    assert strip.record()["states"] == [
        {"state": "starting", "from_s": 0.0, "to_s": 0.48},
        {"state": "running", "from_s": 0.48, "to_s": 1.0},
    ]
    for k in range(3 * SPANS_MAX):
        strip.enter(f"{k}", 2.0 + k)
        strip.take(*rows(10_000 * (k + 1), 10_000 * (k + 1) + 1))
    assert len(strip.states) == len(strip.gaps) == SPANS_MAX


def test_a_state_that_began_before_it_was_told_takes_the_place_of_what_was_told_meanwhile() -> None:
    strip = Strip(0.0)
    for state, at_s in (("starting", 0.0), ("unknown", 0.3), ("running", 0.2)):
        strip.take(*rows(round(strip.end_s * 100), round(strip.end_s * 100) + 40))
        strip.enter(state, at_s)
    assert strip.record()["states"] == [
        {"state": "starting", "from_s": 0.0, "to_s": 0.2},
        {"state": "running", "from_s": 0.2, "to_s": pytest.approx(1.2)},
    ]
    strip.enter("unknown", 1.0)
    strip.enter("running", 0.9)  # it had never been another
    assert [(span.state, span.from_s) for span in strip.states] == [("starting", 0.0), ("running", 0.2)]
    strip.enter("stalled", -1.0)
    assert [(span.state, span.from_s) for span in strip.states] == [("stalled", 0.0)]
