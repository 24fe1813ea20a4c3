"""One cycle of a motor: from a start to the next one, with its figures. Records only; nothing here computes."""

from dataclasses import dataclass, field
from enum import StrEnum


class Bound(StrEnum):
    """What a value says of the true one."""

    NONE = ""  # it is that
    LEAST = "at least"
    MOST = "at most"


class Begun(StrEnum):
    """How a cycle began."""

    SEEN = "seen"
    UNSEEN = "unseen"  # it was off and then on, so there was a start, but it was not seen, as in a gap
    BEFORE = "before"  # it was on when it was first looked at: that start belongs to no one that is counted here


@dataclass(frozen=True, slots=True)
class Figure:
    """One figure of a cycle in the unit of its key. A value None has its reason; `half`: half the width of the interval
    that holds the true value in 95 % of cases, None where it is not known."""

    value: float | None
    half: float | None = None
    reason: str = ""
    bound: Bound = Bound.NONE

    def __post_init__(self) -> None:
        if self.value is None and not self.reason:
            raise ValueError("a figure that is absent says why")


@dataclass(frozen=True, slots=True)
class Kind:
    """What a figure is: its key, what a person reads, its unit and what it means exactly."""

    key: str
    label: str
    unit: str
    digits: int
    definition: str


FIGURES = (
    Kind("starting_time_s", "starting time", "s", 2, "from the first current to 95 % of the speed at which it settled"),
    Kind("inrush_peak_a", "inrush, peak", "A", 2, "highest instantaneous current of the start"),
    Kind(
        "inrush_half_cycle_a",
        "inrush, half-cycle RMS",
        "A",
        2,
        "highest RMS of the start over half a cycle of the supply, wherever it begins; direct current: over 10 ms",
    ),
    Kind("steady_current_a", "steady current", "A", 3, "mean over the windows in which it ran throughout: RMS or mean"),
    Kind("current_spread", "spread of the current", "%", 1, "highest less lowest window, of the steady current"),
    Kind("steady_speed_rpm", "steady speed", "r/min", 0, "mean over the windows in which it ran throughout"),
    Kind("coasting_time_s", "coasting time", "s", 2, "from the end of its current until its shaft stood"),
    Kind("energy_wh", "energy", "Wh", 3, "active power times time from its start to the next"),
    Kind("on_time_s", "on-time", "s", 2, "from the first current to the last"),
    Kind("off_time_s", "off-time", "s", 2, "from the last current to the next start"),
    Kind("start_heat", "heat of the start", "%", 1, "current squared times time: of the start, of the whole on-time"),
)
KEYS = tuple(kind.key for kind in FIGURES)


@dataclass(frozen=True, slots=True)
class Cycle:
    """`start_s`: board time, of its start or, where that was not seen, from where on it is known to be on.

    `figures` by the keys of FIGURES, all of them. `doubts`: why more, or less, may have happened than one cycle;
    `hidden_s`: time without samples in which the motor may have been stopped and started unseen. `stalls`, `reversals`:
    how often, while it was on. `braked`: its speed was brought down while current flowed. `ended`: the next start came,
    so that nothing of it is open.
    """

    number: int
    start_s: float
    begun: Begun
    figures: dict[str, Figure] = field(default_factory=dict)
    doubts: tuple[str, ...] = ()
    hidden_s: float = 0.0
    stalls: int = 0
    reversals: int = 0
    braked: bool = False
    ended: bool = True

    @property
    def is_start(self) -> bool:
        """It counts as a start."""
        return self.begun is not Begun.BEFORE

    def value(self, key: str) -> float | None:
        """The value of a figure that is neither a bound nor absent."""
        figure = self.figures.get(key)
        return None if figure is None or figure.bound is not Bound.NONE else figure.value
