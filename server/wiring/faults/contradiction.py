"""Three voltages between leads that no three leads can have: they must add up to nothing, going round."""

from server.verdict import Certainty, NextTest, Sign, Speaks, Verdict
from server.wiring.faults.fault import METER
from server.wiring.grounds import Grounds
from server.wiring.leads import CONTRADICT


def contradiction(grounds: Grounds) -> Verdict | None:
    """By Kirchhoff's law of voltages, in the last window that was loud enough."""
    share = grounds.contradict
    if share is None or share < CONTRADICT:
        return None
    return Verdict(
        "voltages_contradict",
        "Do the voltage channels fit together?",
        "The voltage channels contradict each other: one is dead, the other way round, or at the wrong lead.",
        Certainty.PLAIN,
        (
            Sign(
                Speaks.FOR,
                f"By {share:.2f} of the largest of them they differ from what any three leads could show; from"
                f" {CONTRADICT:.1f} on none of them is believed.",
            ),
        ),
        ("Which of the channels it is.", "Every question that is answered by voltages."),
        NextTest(
            "Look at each voltage lead of the board, its plug and its polarity; then turn by hand again.",
            METER,
        ),
    )
