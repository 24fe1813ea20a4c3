"""Trends with the sign of a last value that is only a bound, as of a motor that is held. Writes nothing; any thread.

Summaries do not keep it: a column's mean is a bound where any value of it is one, so the newest readings of the column
are looked at.
"""

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np

from server.quantities.bounds import bound_of
from server.readings import Confidence
from server.runs.log.columns import Grid
from server.runs.log.reading import LogError, LogReader, Part, Trends, trends

LOOK_S = 2.0  # at the end of a column, or of the run within it: each reading comes several times in it


def trends_with_bounds(
    runs: Sequence[Path], ids: Sequence[str], span: tuple[float, float] | None, columns: int
) -> Trends:
    """As `trends`, with the `bound` of each band."""
    found = trends(runs, ids, span, columns)
    doubted = dict[int, list[str]]()  # by the last column that has a value
    for each, band in found.bands.items():
        known = np.flatnonzero(np.isfinite(band.mean))
        if known.size and band.trusted[known[-1]] < 1.0:
            doubted.setdefault(int(known[-1]), []).append(each)
    bands = dict(found.bands)
    for column, its in doubted.items():
        for each, sign in _signs(runs, found.parts, found.grid, column).items():
            if each in its:
                bands[each] = replace(bands[each], bound=sign)
    return replace(found, bands=bands)


def _signs(runs: Sequence[Path], parts: Sequence[Part], grid: Grid, column: int) -> dict[str, str]:
    """Of the newest readings of a column, by their ids. A log that cannot be read any more tells none."""
    until_s = grid.from_utc_s + (column + 1) * grid.column_s
    for run, part in zip(reversed(runs), reversed(parts), strict=True):
        if part.span is None or part.span[0] >= until_s:
            continue
        last_s = min(until_s, np.nextafter(part.span[1], np.inf))
        try:
            with LogReader(run) as log:
                return {
                    each.id: bound_of(each.key, each.reason if each.confidence is Confidence.DOUBTFUL else "")
                    for _, instant in log.instants(max(last_s - LOOK_S, until_s - grid.column_s), last_s)
                    for each in instant.readings
                }
        except LogError:
            return {}
    return {}
