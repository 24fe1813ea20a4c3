"""Do the Hall edges come in time? Early and late commutation in a run."""

from server.quantities.commutation import LATE
from server.readings import Confidence
from server.verdict import Certainty, NextTest, Sign, Speaks, Verdict
from server.verdicts.rule import Held, Look, Rule, held

_NOTICED, _MENDED_BELOW = (
    15.0,
    12.0,
)  # electrical degrees: hotter, and the directions differ; told until below the other
_PLAIN = 25.0  # beyond, only the side is sure
_QUESTION = "Do the Hall edges come in time?"


def timing_verdict(look: Look, told: bool) -> Verdict | None:
    """What this look alone says; `told`: it is told already, and stands until it is clearly gone."""
    reading = look.readings[LATE]
    late = reading.value
    if not isinstance(late, float) or abs(late) < (_MENDED_BELOW if told else _NOTICED):
        return None
    side, size = ("late", late) if late > 0 else ("early", -late)
    more = "more than 25" if size > _PLAIN else f"{size:.0f}"
    pairs = look.plate.pole_pairs
    shaft = f", {size / pairs:.1f} on the shaft" if pairs and size <= _PLAIN else ""
    signs = (
        Sign(
            Speaks.FOR,
            f"The lead that is not driven passes the middle {more} degrees before its place{shaft}."
            if late > 0
            else f"The lead that is not driven passes the middle {more} degrees after its place{shaft}.",
        ),
    )
    answer = f"Hall edges come {more} degrees {side} in the direction it runs."
    test = NextTest(
        "Run it the other way at the same load: equally late both ways is a delay or play, late and early is the place"
        " of the sensor board. Some drives have a setting for it.",
        "Let it stop before the direction is changed; nothing on the shaft that may come loose.",
    )
    opens = ("No exchange of wires mends this.",)
    key = f"run_commutation_{side}"  # a shaft turned by hand has a verdict of its own
    certainty = Certainty.PLAIN if reading.confidence is Confidence.GOOD else Certainty.PROBABLE
    return Verdict(key, _QUESTION, answer, certainty, signs, opens, test)


def _step(state: Held | None, look: Look) -> tuple[Held | None, Verdict | None]:
    reading = look.readings.get(LATE)
    if reading is None or reading.confidence is Confidence.ABSENT:
        return state, state.told if state else None
    state = held(state, timing_verdict(look, state is not None and state.told is not None))
    return state, state.told


TIMING = Rule("timing", _step)
