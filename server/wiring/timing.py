"""Do edges come when six-step drives need them: the verdict on alignment. Pure.

What a drive makes of edges that are off is a sum over the angle, for trapezoids and sines nearly alike (own; a test
sums it anew): torque per amp falls little, its ripple much. The marks 5, 10, 20 degrees are common practice, no
published source.
"""

import numpy as np

from server.verdict import Certainty, NextTest, Sign, Speaks, Verdict
from server.wiring.faults.fault import TURNING
from server.wiring.figures import Alignment, Angle, degrees_words
from server.wiring.grounds import Grounds
from server.wiring.order import PLAIN

QUESTION = "Do the Hall edges come in time with the windings?"
GOOD_DEG, USABLE_DEG, OTHER_DEG = 5.0, 10.0, 25.0
_OFF_DEG = (0.0, 5.0, 10.0, 15.0, 20.0, 30.0)  # against a trapezoid with flat tops of 120 degrees
_TORQUE = (1.0, 0.997, 0.986, 0.969, 0.944, 0.875)
_RIPPLE = (0.0, 0.08, 0.17, 0.26, 0.35, 0.57)  # greatest less least over the mean
_BOTH_WAYS = NextTest(
    "Turn briskly, 40 edges or more each way: that tells places from hysteresis and delay.",
    TURNING,
)
_MEND = NextTest(
    "Set the drive's timing, or move the sensor board; no exchange of wires helps. Then turn by hand again, both ways.",
    "Everything off and the drive's capacitors empty (below 1 V) before the motor is opened.",
)


def timing_verdict(grounds: Grounds, found: Alignment | None, order_is_wrong: bool = False) -> Verdict | None:
    """None without voltages or below an electrical turn of edges that have an angle. `order_is_wrong`: plugs must be
    moved, and good timing alone does not make it run.
    """
    if found is None or found.ahead is None:
        return None
    late = found.placed or found.ahead
    size = abs(late.deg)
    word = "late" if late.deg > 0 else "early"
    key = "commutation_timed" if size <= USABLE_DEG else f"commutation_{word}"
    both = found.placed is not None
    way = "by the place of the sensors" if both else f"when turning {_way(grounds)}"
    edges = "Apart from the order, Hall edges" if order_is_wrong else "Hall edges"
    answer = f"{edges} come {size:.1f} degrees {word} {way}{_on_shaft(grounds, size)}: {_mark(size)}."
    enough = late.edges >= PLAIN and (both or size > USABLE_DEG or size + late.u95_deg <= USABLE_DEG)
    plain = enough and (size - late.u95_deg > USABLE_DEG or size <= USABLE_DEG)
    test = _MEND if size > USABLE_DEG else None if plain and both else _BOTH_WAYS
    certainty = Certainty.PLAIN if plain else Certainty.PROBABLE
    return Verdict(
        key,
        QUESTION,
        answer,
        certainty,
        _signs(found, late),
        _open(grounds, found),
        test if plain else test or _BOTH_WAYS,
    )


def _mark(size: float) -> str:
    if size <= GOOD_DEG:
        return "good"
    if size <= USABLE_DEG:
        return "usable"
    torque = float(np.interp(size, _OFF_DEG, _TORQUE))
    ripple = float(np.interp(size, _OFF_DEG, _RIPPLE))
    costs = f"torque per amp falls to {torque:.2f} of the best, its ripple is {ripple:.2f} of the mean"
    if size > OTHER_DEG:
        return f"this looks like the other convention, edges where one lead's own voltage is nothing; {costs}"
    return costs


def _signs(found: Alignment, late: Angle) -> tuple[Sign, ...]:
    signs = [Sign(Speaks.FOR, f"{_said(late)} from {late.edges} edges.")]
    if found.lag is not None and found.back is not None and found.ahead is not None:
        ways = f"{_said(found.ahead)} one way, {_said(found.back)} the other"
        signs.append(Sign(Speaks.FOR, f"{ways}; late both ways by {_said(found.lag)}."))
    else:
        signs.append(Sign(Speaks.MISSING, "Edges of the other direction."))
    return tuple(signs)


def _said(angle: Angle) -> str:
    return degrees_words(angle.u95_deg, angle.deg)


def _open(grounds: Grounds, found: Alignment) -> tuple[str, ...]:
    opens = []
    if found.placed is None:
        opens.append("One way only: places of sensors and hysteresis are not separated.")
    if grounds.off_by is not None and grounds.off_by.delay_s is None:
        opens.append("The board does not say what its channels' delays may be off by; ± is without that.")
    return tuple(opens)


def _on_shaft(grounds: Grounds, size: float) -> str:
    pairs = grounds.known.pole_pairs
    if not pairs:
        return ""
    return f" ({size / pairs:.1f} on the shaft)"


def _way(grounds: Grounds) -> str:
    ahead = grounds.known.turned_forward
    return "this way" if ahead is None else "forward" if ahead else "backward"
