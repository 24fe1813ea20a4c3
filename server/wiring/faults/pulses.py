"""Pulses too short to be edges of a shaft."""

from server.verdict import Certainty, NextTest, Sign, Speaks, Verdict
from server.wiring.grounds import Grounds
from server.wiring.lines import pulses_of

LEAST = 2  # a single one may be anything
_POWER = "Propeller, wheel and belt off, motor clamped, hands away. Slipring only watches."


def pulses(grounds: Grounds) -> Verdict | None:
    """Short pulses on the lines: picked up, most of them by a drive that switches."""
    seen = pulses_of(grounds.edges, grounds.visits, grounds.lines, grounds.tick_hz, grounds.end_tick)
    if seen.count < LEAST:
        return None
    name = grounds.known.names.hall
    lines = ", ".join(f"{name(place)} {count}" for place, count in enumerate(seen.of_lines) if count)
    longest = f"{1e6 * seen.longest_s:.0f} us"
    signs = [Sign(Speaks.FOR, f"{seen.count} pulses, the longest {longest}, each left out: {lines}.")]
    if seen.several:
        signs.append(Sign(Speaks.FOR, f"{seen.several} of them changed several lines at once."))
    driven = grounds.driven_s >= 0.98 * grounds.lasted_s
    when = ", all while current flowed" if driven else ""
    if not driven:
        signs.append(Sign(Speaks.AGAINST, f"Current flowed for {grounds.driven_s:.1f} of {grounds.lasted_s:.1f} s."))
    return Verdict(
        "hall_pulses",
        "Are there pulses that are no edges?",
        f"{seen.count} pulses no longer than {longest}{when}: picked up by the cable.",
        Certainty.PROBABLE,
        tuple(signs),
        ("A drive that does not leave them out switches at each of them.",),
        NextTest("Same speed, coasting, the drive off: if they are gone, the drive makes them.", _POWER),
    )
