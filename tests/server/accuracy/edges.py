"""Edges of a steady shaft with white jitter, and the speed fitted to them, against the bound.

The bound is that of a straight line through times whose edges sit where they should: s / sqrt(n (n^2 - 1) / 12) for the
step from one edge to the next (Kay, Fundamentals of Statistical Signal Processing: Estimation Theory, 1993, example
3.9, from memory). That the places are not known costs on top of it; times are rounded to ticks, which adds 1/12 of a
tick squared.
"""

from math import sqrt

import numpy as np

from server.hall.fit import fitted

_TICK_HZ = 1e6


def edge_ratio(places: int, turns: float, jitter_ticks: float, windows: int, seed: int) -> float:
    """Root-mean-square error of the fitted step over the bound; `places` edges a turn, 200 ms that hold `turns`."""
    draw = np.random.default_rng([seed, places, round(10 * turns), round(jitter_ticks)])
    n = round(places * turns) + 1
    errors = []
    for _ in range(windows):
        step = 0.2 * _TICK_HZ / (places * turns) * draw.uniform(1.0, 1.02)
        late = step * 0.1 * draw.uniform(-1.0, 1.0, places)  # a tenth of a step off its place, the same in every turn
        times = draw.uniform(0.0, step) + step * np.arange(n) + late[np.arange(n) % places]
        fit = fitted(np.rint(times + jitter_ticks * draw.standard_normal(n)).astype(np.int64), places)
        assert fit is not None
        errors.append(fit.step_ticks - step)
    bound = sqrt(jitter_ticks**2 + 1.0 / 12.0) / sqrt(n * (n * n - 1.0) / 12.0)
    return float(np.sqrt(np.mean(np.square(errors)))) / bound
