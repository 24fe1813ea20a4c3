"""At which current limit a motor is driven whose wiring is not known yet, and how that is said. Pure.

A rotor that is held, or an order that is wrong, takes all that the supply gives. A tenth of the rated current makes a
hundredth of the heat that the windings bear for ever, as heat goes with its square, and a tenth of the torque. And no
more than 1 A: at 12 V that is 12 W, whatever the motor does with it. Both are common practice, no published source; a
motor that stands at this limit is not told to be wired wrong by that alone.
"""

MOST_A, OF_RATED = 1.0, 0.1


def limit_a(rated_a: float | None) -> float:
    """The less of the two; of the rated current only where it is known."""
    return MOST_A if rated_a is None else min(MOST_A, OF_RATED * rated_a)


def limit_words(rated_a: float | None) -> str:
    """The same as it is told; what it stands on is not known without the rated current."""
    limit = f"{limit_a(rated_a):.2g} A"
    return f"{limit} at most: the rated current is not known" if rated_a is None else limit
