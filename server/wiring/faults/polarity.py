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


def polarity(grounds: Grounds) -> Verdict | None:
    """Said of the states that never come; signals can't tell its two causes apart."""
    odd = grounds.course.odd
    expected = 0 if grounds.known.spacing_deg == 120 else 2
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
        ("An inverted sensor and sensors 60 degrees apart give the same signals.",),
        NextTest(
            "Look at the plate, or at the sensor board: are two neighbouring sensors 60 electrical degrees apart, or is"
            " one turned over? Either way that input may be read inverted.",
            METER,
        ),
    )


def _answer(grounds: Grounds, odd: int) -> str:
    name = grounds.known.names.hall
    if odd == 0:
        return (
            "A, B and C read alike, where the drive's table is for sensors 60 degrees apart: sensors 120 degrees apart,"
            " or the middle one inverted."
        )
    place = int(np.log2(odd))
    rest = " and ".join(HALL_NAMES[each] for each in range(3) if each != place)
    if grounds.known.spacing_deg == 60:
        return f"{name(place)} is the middle sensor of the set, and the drive's table expects it on B."
    return f"{name(place)} reads the opposite of {rest}: an inverted sensor or a 60-degree set."
