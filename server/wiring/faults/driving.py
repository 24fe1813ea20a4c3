"""A drive that does not chop, where no current is seen: only the speed tells its voltages from those of windings."""

from server.verdict import Certainty, NextTest, Sign, Speaks, Verdict
from server.wiring.faults.fault import TURNING
from server.wiring.grounds import Grounds


def driving(grounds: Grounds) -> Verdict | None:
    """By how the voltages go with the speed."""
    follows = grounds.follows
    if follows is None or not follows.driven:
        return None
    high = follows.slower**follows.exponent
    return Verdict(
        "voltages_driven",
        "Are the voltages those of the windings?",
        "No: they do not follow the speed. A drive makes them, though no current is seen.",
        Certainty.PROBABLE,
        (
            Sign(
                Speaks.FOR,
                f"The fastest electrical turn took 1/{follows.slower:.2g} of the time of the slowest, and its voltages"
                f" were {high:.2g} times as high: those of windings are {follows.slower:.2g} times as high.",
            ),
        ),
        ("What the motor would do as it is wired: a drive's own voltages always fit the drive's table.",),
        NextTest(
            "Unplug the drive from the motor and turn by hand. Then look at the current channels: they should have"
            " shown that it was driven.",
            TURNING,
        ),
    )
