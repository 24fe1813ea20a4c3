"""Summaries and columns against numpy over the same rows: nothing that was lowest or highest is lost at any length."""

from collections.abc import Iterable

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from server.runs.log.blocks import of_rows
from server.runs.log.columns import Columns, Grid, grid_of
from server.runs.log.summary import IDS_MAX, LENGTHS_S, Ended, Stretch, Summaries, joined

IDS = ("speed_rpm", "current_rms_a")


def stretch(values: Iterable[float], ids: tuple[str, ...] = IDS, doubtful: int = 0) -> Stretch:
    value = np.array(list(values))
    count = (~np.isnan(value)).astype(np.int64)
    return Stretch(ids, value, value, value, count, doubtful * count, 1 - count)


def of_levels(ended: Iterable[Ended]) -> list[dict[int, Stretch]]:
    levels: list[dict[int, Stretch]] = [{} for _ in LENGTHS_S]
    for each in ended:
        its = levels[each.level]
        its[each.number] = joined((its[each.number], each.stretch)) if each.number in its else each.stretch
    return levels


@settings(max_examples=12, deadline=None)
@given(st.integers(0, 2**31), st.floats(0.01, 3.0), st.booleans())
def test_each_level_holds_lowest_highest_mean_and_counts_of_its_stretches(seed: int, step_s: float, late: bool) -> None:
    draw = np.random.default_rng(seed)
    times = 1.8e9 + np.cumsum(draw.exponential(step_s, 200))
    if late:  # other groups and single samples come behind the windows that they belong before
        times -= draw.exponential(0.5, 200) * (draw.random(200) < 0.1)
    values = draw.normal(size=(200, 2))
    values[draw.random((200, 2)) < 0.2] = np.nan
    summaries, ended = Summaries(), list[Ended]()
    for utc_s, row in zip(times, values, strict=True):
        ended += summaries.take(utc_s, stretch(row))
    ended += summaries.end()
    for length_s, its in zip(LENGTHS_S, of_levels(ended), strict=True):
        numbers = (times // length_s).astype(int)
        assert set(its) == set(numbers.tolist())
        for number, found in its.items():
            rows = values[numbers == number]
            for k, name in enumerate(found.ids):
                column = rows[:, IDS.index(name)]
                known = column[~np.isnan(column)]
                assert (found.count[k], found.absent[k]) == (known.size, column.size - known.size)
                if known.size:
                    assert (found.low[k], found.high[k]) == (known.min(), known.max())
                    assert found.mean[k] == pytest.approx(known.mean(), abs=1e-9)
                else:
                    assert np.isnan([found.low[k], found.high[k], found.mean[k]]).all()


def test_readings_beyond_the_limit_are_left_out_and_memory_stays() -> None:
    summaries = Summaries()
    ended = [
        each
        for k in range(40)
        for each in summaries.take(1.8e9 + 2 * k, stretch(range(100), tuple(f"q{100 * k + j}" for j in range(100))))
    ]
    told = {name for each in ended for name in each.stretch.ids}
    assert 1900 <= len(told) <= IDS_MAX
    assert "q0" in told


def columns_of(levels: list[dict[int, Stretch]], columns: Columns) -> None:
    its = levels[columns.grid.level]
    numbers = sorted(its)
    columns.add(columns.grid.level, of_rows(numbers, IDS, [its[number].pack() for number in numbers]))


def test_one_value_in_a_night_is_seen_at_every_zoom() -> None:
    times = 1.8e9 + np.arange(0.2, 12 * 3600.0, 20.0)
    values = np.ones((times.size, 2))
    spike = int(np.searchsorted(times, 1.8e9 + 20_000.0))
    values[spike, 1] = 50.0
    doubted_s = 30_000.0
    summaries, ended = Summaries(), list[Ended]()
    for utc_s, row in zip(times, values, strict=True):
        ended += summaries.take(utc_s, stretch(row, doubtful=1 if utc_s > 1.8e9 + doubted_s else 0))
    ended += summaries.end()
    levels = of_levels(ended)
    for span_s in (60.0, 900.0, 3600.0, 12 * 3600.0):
        from_utc_s = max(1.8e9, times[spike] - span_s / 3)
        columns = Columns(grid_of(from_utc_s, from_utc_s + span_s, 1200), IDS)
        columns_of(levels, columns)
        band = columns.bands()["current_rms_a"]
        at = int((times[spike] - columns.grid.from_utc_s) / columns.grid.column_s)
        assert np.nanargmax(band.high) == at
        assert [float(np.nanmax(band.high)), float(np.nanmin(band.low))] == [50.0, 1.0]
    doubted, end = (
        int((1.8e9 + at_s - columns.grid.from_utc_s) / columns.grid.column_s) for at_s in (doubted_s, 43_100.0)
    )
    assert (band.trusted[:doubted] == 1.0).all()
    assert (band.trusted[doubted + 1 : end] == 0.0).all()
    assert np.isnan(band.trusted[end + 5 :]).all()


@given(st.floats(0.0, 1e10), st.floats(1e-3, 3e7), st.integers(1, 4000))
def test_a_grid_holds_the_span_in_so_many_columns_or_up_to_twice_as_many(
    from_utc_s: float, span_s: float, columns: int
) -> None:
    grid = grid_of(from_utc_s, from_utc_s + span_s, columns)
    assert grid.from_utc_s <= from_utc_s
    assert grid.to_utc_s >= from_utc_s + span_s
    if grid.level + 1 < len(LENGTHS_S):
        assert grid.columns <= 2 * columns + 2
    if grid.level:
        assert grid.columns >= columns


def test_where_nothing_came_there_is_a_gap_and_an_unknown_reading_is_one_gap() -> None:
    columns = Columns(Grid(0, 1000, 100), ("speed_rpm", "no_such"))
    columns.add(0, of_rows([1010, 1050], IDS, [stretch((1.0, 2.0)).pack()] * 2))
    bands = columns.bands()
    assert np.flatnonzero(~np.isnan(bands["speed_rpm"].mean)).tolist() == [10, 50]
    assert np.flatnonzero(~np.isnan(bands["speed_rpm"].trusted)).tolist() == [10, 50]
    assert np.isnan(bands["no_such"].high).all()
