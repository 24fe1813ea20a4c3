"""How a reading is made good or doubtful, and the reasons that several families share."""

from server.quantities.layout import Row
from server.readings import Confidence, Reading, Value

GAP = "the window has a gap"
AC_COUPLED = "the sensor is AC-coupled: a direct part is not in it"
MEANS = "its samples are means over a time: faster ripple is not in it"


def given(key: str, value: Value, place: str = "", doubt: str = "") -> Reading:
    """A good reading, or a doubtful one where there is a doubt."""
    if doubt:
        return Reading(key, value, Confidence.DOUBTFUL, doubt, place)
    return Reading(key, value, place=place)


def joined(*doubts: str) -> str:
    """Doubts in one sentence; empty ones left out."""
    return "; ".join([doubt for doubt in doubts if doubt])


def too_small(row: Row) -> str:
    """Why a ratio of this row is not given."""
    what, unit = ("voltage", "V") if row.is_voltage else ("current", "A")
    return f"{what} below {row.limit:.2g} {unit}: the ratio means nothing"
