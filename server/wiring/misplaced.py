"""Does each sensor sit in its place, is it high for half a turn, are the magnets even: three verdicts. Pure.

Marks are common practice, no published source; a healthy motor has some 1 degree of each.
"""

from math import hypot, sqrt

import numpy as np

from server.verdict import Certainty, NextTest, Sign, Speaks, Verdict
from server.wiring.arrangement import HALL_NAMES
from server.wiring.figures import Angle, EdgeErrors, degrees_words
from server.wiring.grounds import Grounds

MISPLACED_DEG, WIDTH_DEG, MAGNETS_DEG = 5.0, 6.0, 2.0
_TIMES = 1.5  # of its uncertainty for 95 %: three times the scatter of the figure itself
PLACE, WIDTH, MAGNETS = (
    "Does each sensor sit in its place?",
    "Is each sensor high for half an electrical turn?",
    "Are the magnets even?",
)
_OPENED = "Everything off and the drive's capacitors empty (below 1 V) before the motor is opened."
_GAP = NextTest("Look at that sensor's distance from the magnets, beside the other two.", _OPENED)
_COAST = NextTest(
    "Spin it up and let it run down without a load: what stays is the motor's own.",
    "Propeller, wheel and belt off, motor clamped, hands away while it spins. Slipring only watches.",
)


def misplaced_verdicts(grounds: Grounds, found: EdgeErrors | None) -> list[Verdict]:
    """What is beyond the marks; nothing of what is within."""
    if found is None:
        return []
    return [each for each in (_place(grounds, found), _width(grounds, found), _magnets(found)) if each is not None]


def beside_others(three: tuple[Angle, Angle, Angle]) -> tuple[int, float, float]:
    """Which of three lies farthest from the mean of the other two, by how much, and its uncertainty."""
    deg = np.array([each.deg for each in three])
    off = 1.5 * (deg - deg.mean())
    worst = int(np.argmax(np.abs(off)))
    half = float(np.sqrt(sum((each.u95_deg * (1.0 if k == worst else 0.5)) ** 2 for k, each in enumerate(three))))
    return worst, float(off[worst]), half


def _place(grounds: Grounds, found: EdgeErrors) -> Verdict | None:
    worst, off, half = beside_others(found.place)
    if abs(off) <= hypot(MISPLACED_DEG, _TIMES * half):
        return None
    word = "late" if off > 0 else "early"
    shaft = f" ({abs(off) / grounds.known.pole_pairs:.1f} on the shaft)" if grounds.known.pole_pairs else ""
    common = "Whether all three sit off alike can't be told without the leads' voltages."
    return Verdict(
        "hall_misplaced",
        PLACE,
        f"Sensor {grounds.known.names.hall(worst)} is {abs(off):.0f} degrees {word}{shaft} beside the other two.",
        _certainty(found, abs(off) > 2.0 * half),
        _signs("late", found.place, found, f"{degrees_words(half, off)} beside the other two."),
        () if found.absolute else (common,),
        _move(off),
    )


def _move(off: float) -> NextTest:
    way = "against" if off > 0 else "with"
    return NextTest(
        f"Move that sensor {way} the direction turned; speed over an electrical turn is free of it.", _OPENED
    )


def _width(grounds: Grounds, found: EdgeErrors) -> Verdict | None:
    """Of one beside the others, or of all alike."""
    worst, off, half = beside_others(found.width)
    half *= sqrt(1.5)  # what gains move adds up to nothing over three sensors: they do not err apart
    who, beside = f"Sensor {grounds.known.names.hall(worst)} is", " than the other two"
    if abs(off) <= hypot(WIDTH_DEG, _TIMES * half):
        off = float(np.mean([each.deg for each in found.width]))
        half = float(np.sqrt(sum(each.u95_deg**2 for each in found.width))) / 3.0
        who, beside = "All three sensors are", " than half an electrical turn"
    if abs(off) <= hypot(WIDTH_DEG, _TIMES * half):
        return None
    word = "longer" if off > 0 else "shorter"
    return Verdict(
        "hall_width_uneven",
        WIDTH,
        f"{who} high {abs(off):.0f} degrees {word}{beside}.",
        _certainty(found, abs(off) > 2.0 * half),
        _signs("longer", found.width, found, f"{degrees_words(half, off)}{beside}."),
        ("A width that all three share can't be told from north and south poles of two widths.",),
        _GAP,
    )


def _magnets(found: EdgeErrors) -> Verdict | None:
    if not found.magnets:
        return None
    deg = np.array([each.deg for each in found.magnets])
    half = found.magnets[0].u95_deg
    noise = half / 2.0
    rms = float(np.sqrt(max(np.mean(deg**2) - noise**2, 0.0)))
    if rms <= max(MAGNETS_DEG, noise):
        return None
    return Verdict(
        "hall_magnets_uneven",
        MAGNETS,
        f"Magnets differ by {rms:.1f} degrees rms; speed over a whole turn of the shaft is free of it.",
        Certainty.PROBABLE,
        (
            Sign(
                Speaks.FOR,
                f"{deg.size} borders of poles, from {degrees_words(half, float(deg.min()), float(deg.max()))}.",
            ),
            Sign(Speaks.FOR, "All three sensors show the same pattern as each border passes."),
        ),
        ("A load that pulses once a turn looks alike.", "Numbers of borders count from where the stretch began."),
        _COAST,
    )


def _certainty(found: EdgeErrors, clear: bool) -> Certainty:
    return Certainty.PLAIN if found.by_voltages and clear else Certainty.PROBABLE


def _signs(what: str, three: tuple[Angle, Angle, Angle], found: EdgeErrors, first: str) -> tuple[Sign, ...]:
    each = ", ".join(f"{name} {angle.deg:+z.1f}" for name, angle in zip(HALL_NAMES, three, strict=True))
    edges = sum(angle.edges for angle in three)
    by = "by the leads' voltages" if found.by_voltages else "running down, against a smooth motion"
    return Sign(Speaks.FOR, first), Sign(Speaks.FOR, f"Degrees {what}: {each}, from {edges} edges {by}.")
