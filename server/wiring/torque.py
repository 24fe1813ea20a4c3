"""The torque fraction of every way to plug the wires, from one recording of a shaft that was turned. Pure.

    F = sum of (voltage of the lead on plus - of the lead on minus) / sum of (greatest - least of the three)

over samples of whole sectors: the mean torque per amp of that wiring as a share of the most that the motor can give,
in the direction the shaft was turned. A sum of voltage over time is an angle, so speed, scale and back-EMF constant
cancel. +1 runs that way, -1 the other way, +-0.5 weakly, 0 does not turn. (Own derivation: torque per amp of a pair of
phases is the back-EMF between them per unit of speed, as for any two phases that conduct; see Krishnan, Permanent
Magnet Synchronous and Brushless DC Motor Drives, from memory.)
"""

from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from server.wiring.arrangement import AS_IT_IS, ORDERS, STATES, Arrangement, weights

_ALIKE = 0.04  # of |F|: ways to move either cable to the same end differ by the places of sensors only
RIGHT, FITS, WEAK = 0.94, 0.75, 0.25  # of |F|: timing within about 20 degrees, within 42; below WEAK it does not turn


class Runs(StrEnum):
    """What a wiring does under power, by the size of its torque fraction."""

    WELL = "well"
    MISTIMED = "mistimed"  # the right order, edges 20 to 42 degrees early or late
    WEAKLY = "weakly"
    NOT = "not"


def runs(fraction: float) -> Runs:
    """The class of a torque fraction, whichever way it turns."""
    size = abs(fraction)
    if size >= RIGHT:
        return Runs.WELL
    if size >= FITS:
        return Runs.MISTIMED
    return Runs.WEAKLY if size >= WEAK else Runs.NOT


@dataclass(frozen=True, slots=True)
class Fluxes:
    """What is left of a recording: in each Hall state as it came over the wires (8), per visit of it, turning one way.

    `leads_v_s` (8, 3): voltage of each lead against their mean, times time; `spread_v_s` (8,): greatest less least;
    `visits` (8,): whole visits that they are means of, 0 where there was none.
    """

    leads_v_s: NDArray[np.float64]
    spread_v_s: NDArray[np.float64]
    visits: NDArray[np.int64]

    def filled(self) -> "Fluxes":
        """States that were not visited, from the opposite one, where a half turn makes the same with the other sign."""
        opposite = np.arange(STATES)[::-1]
        lacking = (self.visits == 0) & (self.visits[opposite] > 0)
        if int(np.count_nonzero(self.visits)) >= 6:  # all that can come
            return self
        leads = np.where(lacking[:, None], -self.leads_v_s[opposite], self.leads_v_s)
        return Fluxes(leads, np.where(lacking, self.spread_v_s[opposite], self.spread_v_s), self.visits)


def fractions(fluxes: Fluxes, spacing_deg: int = 120) -> NDArray[np.float64]:
    """Torque fractions (6 orders of Halls, 8 masks, 6 orders of phases), as ORDERS; NaN where nothing was induced."""
    total = float(fluxes.spread_v_s.sum())
    if total <= 0.0:
        return np.full((len(ORDERS), 8, len(ORDERS)), np.nan)
    found: NDArray[np.float64] = np.tensordot(weights(spacing_deg), fluxes.leads_v_s, axes=2) / total
    return found


def fraction(found: NDArray[np.float64], arrangement: Arrangement) -> float:
    """That of one arrangement out of `fractions`."""
    at = ORDERS.index(arrangement.halls), arrangement.inverted, ORDERS.index(arrangement.phases)
    return float(found[at])


@dataclass(frozen=True, slots=True)
class Mend:
    """A way to plug the wires that fits, and its torque fraction."""

    to: Arrangement
    fraction: float


def mends(found: NDArray[np.float64], inverted: int, spacing_deg: int = 120) -> list[Mend]:
    """All arrangements that fit, fewest plugs first, then the truest; `inverted`: inputs read the other way round."""
    fits = [
        Mend(Arrangement(halls, phases, inverted, spacing_deg), float(found[h, inverted, q]))
        for h, halls in enumerate(ORDERS)
        for q, phases in enumerate(ORDERS)
        if abs(found[h, inverted, q]) >= FITS
    ]
    best = max((abs(mend.fraction) for mend in fits), default=0.0)
    alike = [mend for mend in fits if abs(mend.fraction) > best - _ALIKE]
    return sorted(alike, key=lambda mend: (mend.to.plugs, mend.to.phases == AS_IT_IS, -abs(mend.fraction)))
