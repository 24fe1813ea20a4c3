import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from server.live.thinning import thinned


def slow(values: list[float], first: float, step: float, columns: int) -> list[tuple[float, float]]:
    """The same by one loop over columns and one over samples, for samples at most a column apart."""
    answer = []
    for column in range(columns):
        inside = [k for k in range(len(values)) if column <= first + k * step < column + 1]
        if inside and inside[0] > 0:
            inside = [inside[0] - 1, *inside]
        kept = [values[k] for k in inside if not math.isnan(values[k])]
        answer.append((min(kept), max(kept)) if kept else (math.nan, math.nan))
    return answer


def test_four_samples_on_two_columns() -> None:
    low, high = thinned(np.array([0.0, 1.0, 3.0, 2.0]), 0.0, 0.5, 2)
    assert low.tolist() == [0, 1]
    assert high.tolist() == [1, 3]


# Steps are dyadic so that a sample on a column's edge lies on the same side for both.
@given(
    st.lists(st.one_of(st.just(math.nan), st.integers(-99, 99).map(float)), max_size=60),
    st.integers(-40, 40).map(lambda n: n / 8),
    st.integers(1, 8).map(lambda n: n / 8),
    st.integers(1, 12),
)
def test_columns_equal_a_slow_independent_count(values: list[float], first: float, step: float, columns: int) -> None:
    low, high = thinned(np.array(values, dtype=np.float64), first, step, columns)
    expected = np.array(slow(values, first, step, columns)).reshape(columns, 2)
    np.testing.assert_array_equal(low, expected[:, 0])
    np.testing.assert_array_equal(high, expected[:, 1])


@settings(max_examples=60)
@given(st.integers(1, 3000), st.integers(1, 700), st.integers(0, 2**31))
def test_a_picture_of_n_columns_holds_the_extremes_of_the_samples(samples: int, columns: int, seed: int) -> None:
    values = np.random.default_rng(seed).standard_normal(samples).astype(np.float32)
    low, high = thinned(values, 0.0, columns / samples, columns)
    assert np.nanmin(low) == values.min()
    assert np.nanmax(high) == values.max()
    assert not np.isnan(low).any() or samples < columns


def test_a_single_tall_sample_among_many_is_kept() -> None:
    values = np.zeros(100_000, dtype=np.float32)
    values[77_777] = 9.0
    assert thinned(values, 0.0, 600 / values.size, 600)[1].max() == 9.0


def test_neighbouring_columns_touch_on_a_steep_flank() -> None:
    values = np.array([0.0] * 5 + [10.0] * 5)
    low, high = thinned(values, 0.0, 0.5, 5)
    assert (low[1:] <= high[:-1]).all()
    assert (high[1:] >= low[:-1]).all()


def test_sparse_samples_are_joined_by_straight_lines() -> None:
    low, high = thinned(np.array([0.0, 4.0]), 0.0, 4.0, 5)
    np.testing.assert_allclose(high, [0, 1, 2, 3, 4])
    np.testing.assert_allclose(low, [0, 0, 1, 2, 3])


def test_no_line_crosses_a_gap_and_the_samples_beside_it_stay() -> None:
    low, high = thinned(np.array([1.0, np.nan, 3.0]), 0.0, 3.0, 7)
    assert low[0] == high[0] == 1
    assert np.isnan(low[2:6]).all()
    assert low[6] == high[6] == 3


def test_a_column_before_or_after_the_samples_has_no_value() -> None:
    low, _ = thinned(np.ones(4), 3.0, 0.5, 8)
    assert np.isnan(low).tolist() == [True] * 3 + [False] * 2 + [True] * 3


@pytest.mark.parametrize(("step", "columns"), [(0.0, 5), (-1.0, 5), (math.nan, 5), (1.0, 0)])
def test_impossible_columns_are_refused(step: float, columns: int) -> None:
    with pytest.raises(ValueError, match="must be positive"):
        thinned(np.ones(3), 0.0, step, columns)
