"""One coil that its bridge has let go: its current ends in the diodes, against the supply, and then nothing flows.

    L di/dt = -(U + 2 U_d) sign(i) - R i - e;   open where i = 0 and abs(e) <= U + 2 U_d

A coil that is turned faster than that charges the supply. Linearly implicit midpoint, cut where the current ends.
"""

from simulator.physics.stepping import inlined

DIODES_V = 1.4  # two in the path


@inlined
def let_go(i: float, emf_v: float, supply_v: float, ohm: float, henry: float, h: float) -> tuple[float, float, float]:
    """Current after `h` seconds, its mean, and the voltage at the coil; `emf_v` counts against the current."""
    against = supply_v + DIODES_V
    way = 1.0 if i > 0.0 else -1.0
    if i == 0.0:
        if abs(emf_v) <= against:
            return 0.0, 0.0, emf_v
        way = -1.0 if emf_v > 0.0 else 1.0
    half = 0.5 * h * ohm / henry
    after = (i * (1.0 - half) - h / henry * (way * against + emf_v)) / (1.0 + half)
    if after * way <= 0.0:
        share = i / (i - after) if i != 0.0 else 0.0
        return 0.0, 0.5 * i * share, -way * against
    return after, 0.5 * (i + after), -way * against


@inlined
def loose_v(i: float, emf_v: float, supply_v: float) -> float:
    """Voltage at a coil that has been let go."""
    against = supply_v + DIODES_V
    if i == 0.0:
        return min(max(emf_v, -against), against)
    return -against if i > 0.0 else against
