"""The EMF between the lines of a brushless motor that coasts: its frequency and its form over a turn. Pure.

Taken between two lines, what all have in common drops out: that of a bridge which is off, and where the star stands.
"""

from dataclasses import dataclass
from math import pi, sqrt

import numpy as np
from numpy.typing import NDArray

from server.motors import MotorType
from server.quantities.analysis import Analysis
from server.quantities.layout import Layout
from server.samples import Samples

LINES_SHARE = 1 / 8  # of the sample rate: the highest frequency looked for
_PARTS = 33  # of half an electrical turn: in the middle one, of 5.5 degrees, a sine loses 0.04 % of its peak
_FAR = 0.05  # of the greatest value in the window: nearer to nothing noise may change the sign


@dataclass(frozen=True, slots=True)
class Line:
    """One voltage between two lines: rows of the layout, `minus` None where it is measured as such."""

    plus: int
    minus: int | None

    @property
    def rows(self) -> tuple[int, ...]:
        return (self.plus,) if self.minus is None else (self.plus, self.minus)

    def values(self, a: Analysis, window: Samples) -> NDArray[np.float64]:
        """Its samples, (samples,)."""
        one: NDArray[np.float64] = window.values[a.layout.take[self.plus]]
        return one if self.minus is None else one - window.values[a.layout.take[self.minus]]


def lines_of(layout: Layout, motor: MotorType) -> list[Line]:
    """The voltages between lines that channels tell: between phases that are measured, else measured as such."""
    at = {row.at: k for k, row in enumerate(layout.rows) if row.is_voltage and row.wave}
    names = [phase.casefold() for phase in motor.phases]
    turns = [(names[k], names[(k + 1) % len(names)]) for k in range(len(names))]
    between = [Line(at[one], at[other]) for one, other in turns if one in at and other in at]
    if between:
        return between
    wired = [[f"{one}-{other}", f"{other}-{one}"] for one, other in turns]
    return [Line(at[place], None) for places in wired for place in places if place in at]


@dataclass(frozen=True, slots=True)
class Form:
    """Magnitude of an EMF over half a turn of its own, in V s/rad of electrical angle, as the speed was in each part.

    `peak`: the greatest; `greatest`: mean over the third of the half turn in which it is greatest; `standard`: standard
    uncertainty of these by what differs from one half turn to another, `scatter` of one sample. `omega`: electrical
    angular speed, mean over the half turns, in rad/s.
    """

    peak: float
    greatest: float
    standard: float
    scatter: float
    omega: float


def form_of(values: NDArray[np.float64], rate_hz: float) -> Form | None:
    """Of a voltage between two lines, (samples,); None where it does not cross nothing three times.

    Each half turn has its own speed, by the crossings at its ends: a shaft that coasts to rest in a second halves its
    speed within a window. A six-step drive feeds the two lines whose voltage is greatest, in turn for a sixth of the
    electrical turn: of one voltage that is the third of a half turn in which it is greatest. Example: of a sine with
    the peak 1 the mean there is 3 / pi, as of a bridge of six diodes.
    """
    crossings = _crossings(values)
    if crossings.shape[0] < 3:
        return None
    at = np.arange(int(crossings[0]) + 1, int(crossings[-1]) + 1)
    half = crossings.searchsorted(at, side="left") - 1
    lengths = np.diff(crossings)
    speeds = np.interp(at, crossings[:-1] + 0.5 * lengths, pi * rate_hz / lengths)
    part = ((at - crossings[half]) / lengths[half] * _PARTS).astype(np.intp)
    size = np.abs(values[at]) / speeds
    counts = np.bincount(part, minlength=_PARTS)
    means = np.bincount(part, size, _PARTS) / np.maximum(counts, 1)
    top = np.argsort(means)[-_PARTS // 3 :]
    inside = np.isin(part, top)
    scatter = float((size - means[part])[inside].std())
    standard = scatter / sqrt(max(int(inside.sum()) - top.shape[0], 1))
    omega = pi * rate_hz * lengths.shape[0] / float(crossings[-1] - crossings[0])
    return Form(float(means.max()), float(means[top].mean()), standard, scatter, omega)


def _crossings(values: NDArray[np.float64]) -> NDArray[np.float64]:
    """Where it changes its sign, in samples: between two that are far from nothing, the middle of what lies there."""
    far = np.flatnonzero(np.abs(values) > _FAR * float(np.abs(values).max()))
    turned = np.flatnonzero(np.diff(np.sign(values[far])))
    one, other = far[turned], far[turned + 1]
    share: NDArray[np.float64] = values[one] / (values[one] - values[other])
    crossings: NDArray[np.float64] = one.astype(np.float64) + share * (other - one)
    return crossings
