"""The sensors' supply: missing, without ground, the wrong way round or short."""

from server.verdict import Certainty, NextTest, Sign, Speaks, Verdict
from server.wiring.faults.fault import METER, TURNING
from server.wiring.grounds import Grounds

# Three sensors take 5 to 30 mA, a bench supply for them is limited to 50 mA (common practice, no published source).
NO_CURRENT_A, MOST_A = 0.001, 0.045
_TURNED_DEG = 360.0  # electrical, by the windings' voltage: each sensor must have changed twice
QUESTION = "Do the sensors have their supply?"
_LEVELS = {
    7: "All three read high: pull-ups on the board, and the sensors' supply or ground is missing.",
    0: "All three read low: the pull-ups hang on the supply that is missing, or all wires lie on ground.",
}


def supply(grounds: Grounds) -> Verdict | None:
    """By the sensors' own current where it is measured; else by a shaft that turns while no line changes, or by levels
    at which no shaft rests."""
    current = grounds.known.supply_a
    if current is not None and current >= MOST_A:
        return _short(current)
    if grounds.visits.count or grounds.edges.ticks.size:
        return None
    swept = abs(grounds.swept_deg)
    no_current = current is not None and current < NO_CURRENT_A
    nowhere = grounds.levels in _LEVELS and grounds.known.spacing_deg == 120
    if not no_current and swept < _TURNED_DEG and not nowhere:
        return None
    if not no_current and swept < _TURNED_DEG:
        return _turn_first(grounds)
    signs = []
    if swept >= _TURNED_DEG:
        turned = f"None of the signals moved while the windings made {grounds.most_v:.2g} V"
        turned += f": {swept / 360:.0f} electrical turns."
        signs.append(Sign(Speaks.FOR, turned))
    if no_current:
        signs.append(Sign(Speaks.FOR, f"The sensors take {1000 * (current or 0.0):.1f} mA; three take 5 to 30 mA."))
    if grounds.levels in _LEVELS:
        signs.append(Sign(Speaks.FOR, f"{grounds.lasted_s:.1f} s: {_LEVELS[grounds.levels]}"))
    if current is None:
        signs.append(Sign(Speaks.MISSING, "The current of the sensors' supply is not measured."))
    both = no_current and swept >= _TURNED_DEG
    return Verdict(
        "hall_supply_missing",
        QUESTION,
        "The sensors have no supply or no ground.",
        Certainty.PLAIN if both else Certainty.PROBABLE,
        tuple(signs),
        ("Supply lost, ground lost and a supply the wrong way round look the same on the signal wires.",),
        NextTest(
            "Measure supply against ground at the motor's end of the cable. Is the polarity right? A supply the wrong"
            " way round kills sensors within seconds.",
            METER,
        ),
    )


def _turn_first(grounds: Grounds) -> Verdict:
    """Levels at which three like sensors never stand: a third of a turn with one inverted, all of it without supply."""
    alike = f"A, B and C all read {'high' if grounds.levels else 'low'}"
    signs = (
        Sign(Speaks.FOR, f"{alike}: no shaft rests there with three like sensors 120 degrees apart."),
        Sign(Speaks.MISSING, f"{grounds.lasted_s:.1f} s without an edge: a turn of the shaft."),
    )
    return Verdict(
        "hall_levels_alike",
        QUESTION,
        f"{alike}: one of them is inverted or the set a 60-degree one, or the sensors have no supply.",
        Certainty.OPEN,
        signs,
        ("Every other question.",),
        NextTest("Turn the shaft an electrical turn or more: signals that change have their supply.", TURNING),
    )


def _short(current: float) -> Verdict:
    return Verdict(
        "hall_supply_short",
        QUESTION,
        "Off now. The sensors' supply is the wrong way round, or short.",
        Certainty.PROBABLE,
        (Sign(Speaks.FOR, f"The sensors take {1000 * current:.0f} mA; three take 5 to 30 mA."),),
        ("A supply the wrong way round and a short look the same from here.",),
        NextTest("Supply off; check its polarity with a meter against the cable, then for a short.", METER),
    )
