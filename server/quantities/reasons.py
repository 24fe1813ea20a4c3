"""How a reading is made good or doubtful, and the reasons that several families share."""

from server.quantities.layout import Row
from server.readings import Confidence, Doubt, Reading, Uncertainty, Value

_GOOD, _DOUBTFUL = Confidence.GOOD, Confidence.DOUBTFUL  # looked up once: readings are made by the hundred
GAP = "the window has a gap"
FEW_CYCLES = "too few cycles in the window to tell noise from harmonics"
AC_COUPLED = "the sensor is AC-coupled: a direct part is not in it"
MEANS = "its samples are means over a time: faster ripple is not in it"


def given(
    key: str,
    value: Value,
    place: str = "",
    doubt: str = "",
    least: float | None = None,
    uncertainty: Uncertainty | None = None,
    says: Doubt = Doubt.NONE,
) -> Reading:
    """A good reading, or a doubtful one where there is a doubt; `least` where the value is below what can be told.
    `says`: what the doubt says to those who act on it.

    A doubtful one has no uncertainty: the reason is not in its budget.
    """
    if doubt:
        return Reading(key, value, _DOUBTFUL, doubt, place, least, doubt=says)
    return Reading(key, value, _GOOD, "", place, least, uncertainty)


def below(value: float, limit: float) -> float | None:
    """The limit where the value is smaller: it says no more than that."""
    return limit if abs(value) < limit else None


def joined(*doubts: str) -> str:
    """Doubts in one sentence; empty ones left out."""
    return "; ".join([doubt for doubt in doubts if doubt])


def hides_direct(row: Row) -> bool:
    """Whether its sensor may leave out all there is."""
    return row.channel.ac_coupled and (row.steady or row.either)


def too_small(row: Row) -> str:
    """Why a ratio of this row is not given."""
    what, unit = ("voltage", "V") if row.is_voltage else ("current", "A")
    return f"{what} below {row.limit:.2g} {unit}: the ratio means nothing"
