"""Figures of edges that verdicts rest on and drawings show: records, and how an angle is said. Pure.

Angles are electrical degrees, positive: late in the direction turned. `u95_deg` is the expanded uncertainty for 95 %
(JCGM 100, annex G): from the scatter of edges (type A) and from what channels may be off by (type B).
"""

from dataclasses import dataclass

from server.rounding import decimals_of, off_by, signed

_DECIMALS = 1  # of degrees, one more where ± allows it


@dataclass(frozen=True, slots=True)
class Angle:
    """A mean over `edges` edges, and how sure it is."""

    deg: float
    u95_deg: float
    edges: int


@dataclass(frozen=True, slots=True)
class EdgeAngle:
    """How late one kind of edge comes: of the input `place` (0: A), rising or falling as it comes over the wire.

    `ahead`: the shaft turned in the sense in which it went farther, else the other way. `moved_deg`: of `late.u95_deg`
    what is from offsets and gains, which move the other edge of the same sensor the other way.
    """

    place: int
    rising: bool
    ahead: bool
    late: Angle
    moved_deg: float


@dataclass(frozen=True, slots=True)
class Alignment:
    """How late all edges come after the crossing of two leads' voltages, by kind of edge and by direction.

    `ahead`, `back`: mean of all kinds in that direction, None where too few edges came. `placed`, `lag`: where both
    directions came, what changes its sign with the direction (place of the sensors, in the direction of `ahead`) and
    what comes late both ways (hysteresis, delay).
    """

    kinds: tuple[EdgeAngle, ...]
    ahead: Angle | None
    back: Angle | None
    placed: Angle | None = None
    lag: Angle | None = None


@dataclass(frozen=True, slots=True)
class EdgeErrors:
    """What is wrong with the places of edges, split as far as the signals allow.

    `place`: of A, B, C, how late its sensor sits, against the mean of the three unless `absolute`; `width`: how much
    longer than half an electrical turn each is high; `magnets`: how
    late each of the `2 * pole_pairs` passes all sensors, sum 0, from where the stretch began; empty where not known.
    `by_voltages`: against the leads' voltages, else against a smooth motion.
    """

    place: tuple[Angle, Angle, Angle]
    width: tuple[Angle, Angle, Angle]
    magnets: tuple[Angle, ...]
    by_voltages: bool
    absolute: bool


@dataclass(frozen=True, slots=True)
class PolePairs:
    """`counted`: from marked turns of the shaft; `by_pattern`: from edges of a shaft that runs down, the number after
    which they repeat; None where it can't be told. `counted_sure`: two counts agree; `by_pattern_sure`: the pattern is
    plain."""

    counted: int | None = None
    counted_sure: bool = False
    by_pattern: int | None = None
    by_pattern_sure: bool = False


UNCOUNTED = PolePairs()


def degrees_words(u95_deg: float, *deg: float) -> str:
    """`+1.02 ± 0.03 degrees`; of two, from the one to the other."""
    decimals = decimals_of(u95_deg, _DECIMALS)
    said = " to ".join(signed(each, decimals) for each in deg)
    return f"{said} ± {off_by(u95_deg, decimals):.{max(decimals, 0)}f} degrees"
