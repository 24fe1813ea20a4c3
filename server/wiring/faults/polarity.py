"""One input that reads the other way round: a sensor that is inverted, or sensors 60 degrees apart."""

import numpy as np

from server.verdict import Certainty, NextTest, Sign, Speaks, Verdict
from server.wiring.arrangement import HALL_NAMES
from server.wiring.course import came_and_stayed
from server.wiring.faults.fault import METER
from server.wiring.grounds import Grounds

QUESTION = "Do all three sensors read the same way round?"
_TURNS = 3  # in a row in which states came: then it is wiring
_EDGES = 6
_MIDDLE = 2  # B, as a bit: on a table for 60 degrees it reads the opposite of the other two


def polarity(grounds: Grounds) -> Verdict | None:
    """Said of the states that never come; signals can't tell its two causes apart."""
    odd = grounds.course.odd
    expected = 0 if grounds.known.spacing_deg == 120 else _MIDDLE
    if odd is None or odd == expected or grounds.course.edges < _EDGES:
        return None
    came = came_and_stayed(grounds.visits)
    never = next(low for low, bit in ((0, 0), (1, 1), (2, 2), (3, 4)) if bit == odd)
    illegal = (0, 7) if expected == 0 else (2, 5)
    times = int(min(came[illegal[0]], came[illegal[1]]))
    sign = (
        f"States {illegal[0]} and {illegal[1]}, which the drive's table lacks, came {came[illegal[0]]} and"
        f" {came[illegal[1]]} times; {never} and {7 - never} never stayed."
    )
    return Verdict(
        "hall_polarity_mixed",
        QUESTION,
        _answer(grounds, odd),
        Certainty.PLAIN if times >= _TURNS else Certainty.PROBABLE,
        (Sign(Speaks.FOR, sign),),
        ("An inverted sensor and sensors 60 degrees apart give the same signals, and none tells the drive's table.",),
        NextTest(
            "Look at what the drive is set to; then at the plate, or at the sensor board: are two neighbouring sensors"
            " 60 electrical degrees apart, or is one turned over? Either way that input may be read inverted.",
            METER,
        ),
    )


def _answer(grounds: Grounds, odd: int) -> str:
    name = grounds.known.names.hall
    if odd == 0:
        return (
            "A, B and C read alike: right on a drive set to sensors 120 degrees apart; on one set to 60, a 120-degree"
            " set or an inverted sensor."
        )
    place = int(np.log2(odd))
    rest = " and ".join(HALL_NAMES[each] for each in range(3) if each != place)
    either = f"{name(place)} reads the opposite of {rest}: "
    if odd == _MIDDLE:
        on_60 = "right on a drive set to sensors 60 degrees apart; on one set to 120"
        return f"{either}{on_60}, an inverted sensor or a 60-degree set."
    return f"{either}an inverted sensor, or a 60-degree set, whose middle sensor a drive set to 60 expects on B."
