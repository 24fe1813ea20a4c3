"""The sensors' supply is there, and too low: what their signals show may be false."""

from server.hall.supply import RATED_V, least_v
from server.verdict import Certainty, NextTest, Sign, Speaks, Verdict
from server.wiring.faults.fault import METER
from server.wiring.faults.supply import QUESTION
from server.wiring.grounds import Grounds, Known

KEY = "hall_supply_low"
_GONE_V = 0.5  # below it is no supply at all, which is another verdict


def too_low(known: Known) -> bool:
    """By the sensors' own voltage, where it is measured."""
    return known.supply_v is not None and _GONE_V <= known.supply_v < least_v(known.sensor_rated_v)


def low_words(known: Known) -> str:
    """The sign of it."""
    rated = f"{known.sensor_rated_v or RATED_V:g} V sensors need {least_v(known.sensor_rated_v):.3g} V"
    return f"The sensors' supply reads {known.supply_v:.2f} V, and {rated} (common practice)."


def weak_supply(grounds: Grounds) -> Verdict | None:
    known = grounds.known
    if not too_low(known):
        return None
    opens = ["Whether the supply itself sags, or a wire or plug on its way drops the rest."]
    if known.sensor_rated_v is None:
        opens.append("What the sensors are rated for: 5 V is taken; the guided check asks for it.")
    return Verdict(
        KEY,
        QUESTION,
        "The sensors' supply is too low: what their signals show may be false.",
        Certainty.PROBABLE,
        (Sign(Speaks.FOR, low_words(known)),),
        tuple(opens),
        NextTest("Measure supply against ground at the motor's end of the cable, then at the supply.", METER),
    )
