"""Where a wave rises through zero, between the samples. Pure; assumes evenly spaced samples."""

import numpy as np
from numpy.typing import NDArray

from server.live.thinning import Floats

SMOOTHING = 1 / 12  # of a period: flattens orders from 12 on, and its mean is centred, so it shifts nothing
HYSTERESIS = 0.2  # of the largest swing: noise about zero, and notches of a chopped wave, are no crossings


def rising_zeros(values: Floats, period: float) -> NDArray[np.float64]:
    """Positions, in samples from the first one, at which the smoothed wave rises through zero.

    `values` has shape (samples,); `period` is about the number of samples in a cycle. Straight line
    between the samples on both sides. A crossing beside a NaN is left out.
    """
    width = 2 * int(period * SMOOTHING / 2) + 1
    if values.size < width + 1:
        return np.empty(0)
    smooth = np.convolve(values.astype(np.float64), np.full(width, 1 / width), mode="valid")
    if np.isnan(smooth).all():
        return np.empty(0)
    level = HYSTERESIS * np.nanmax(np.abs(smooth))
    sign = np.where(smooth > level, 1, np.where(smooth < -level, -1, 0))
    beyond = np.flatnonzero(sign)
    turns = np.flatnonzero((sign[beyond[:-1]] == -1) & (sign[beyond[1:]] == 1))
    found = [_between(smooth, int(beyond[k]), int(beyond[k + 1])) for k in turns]
    return np.array([at for at in found if at is not None], dtype=np.float64) + (width - 1) / 2


def _between(smooth: NDArray[np.float64], below: int, above: int) -> float | None:
    stretch = smooth[below : above + 1]
    if np.isnan(stretch).any():
        return None
    last = int(np.flatnonzero(stretch <= 0)[-1])
    return below + last + float(-stretch[last] / (stretch[last + 1] - stretch[last]))
