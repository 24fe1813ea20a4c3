"""What the service says: readings, events, damage. Records only; nothing here computes."""

from dataclasses import dataclass
from enum import Flag, StrEnum, auto
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from firmware_protocol.record import record

UP_TO_SPEED = 0.95  # of the speed at which a motor settles: from there on its start is over (t95)
Value: TypeAlias = float | int | str | tuple[float, ...]


class Confidence(StrEnum):
    """How far a reading can be trusted."""

    GOOD = "good"
    DOUBTFUL = "doubtful"  # shown, with the reason
    ABSENT = "absent"  # a dash and the reason, never a number


class Doubt(Flag):
    """What a reason says to those who act on it: its words are for people alone."""

    NONE = 0
    ONLY_A_BOUND = auto()  # the value is the most that it can be
    EDGE_MAY_BE_MISSING = auto()
    # These two say all that the reason says, and stand only where nothing else is in it.
    AT_LEAST = auto()  # the value is the least that it can be
    # Right for all of a window in which it changed, but for parts of a cycle at its ends, and for no moment of it.
    OF_ALL_THE_WINDOW = auto()


_GOOD = Confidence.GOOD  # looked up once: readings are made by the hundred


@record
class Uncertainty:
    """What a value may be off by: [`low`, `high`] holds the true value in 95 % of cases (JCGM 100, 6.2 and annex G).

    Symmetric about the value unless a bound of its quantity cuts it. `coverage_factor`: from the effective degrees of
    freedom. `parts`: the budget, what it comes from in words and the standard uncertainty by it, in the unit of the
    reading; `scatter`: what of them is new in each window, where a sum over windows asks for it. `dof`: of each part,
    empty where all are taken as infinite. Of a list of values all this is of its first one, and `halves` are the half
    widths of each.
    """

    low: float
    high: float
    coverage_factor: float
    parts: tuple[tuple[str, float], ...]
    halves: tuple[float, ...] = ()
    scatter: float = 0.0
    dof: tuple[float, ...] = ()

    @property
    def half(self) -> float:
        """Half the width of the interval."""
        return 0.5 * (self.high - self.low)


@record
class Reading:
    """One quantity at one instant. `key` is its name in QUANTITIES, `place` tells apart what is measured twice.

    An absent reading has no value; a doubtful or absent one always has a reason. `least`, in the unit of the value: its
    channel cannot tell what is smaller from nothing, and this is smaller; None where it is not. `uncertainty` is None
    where it is not known, as of words. `doubt`: what of the reason others act on.
    """

    key: str
    value: Value | None
    confidence: Confidence = Confidence.GOOD
    reason: str = ""
    place: str = ""
    least: float | None = None
    uncertainty: Uncertainty | None = None
    doubt: Doubt = Doubt.NONE

    def __post_init__(self) -> None:
        if self.confidence is _GOOD:
            if self.value is None or self.reason:
                raise ValueError(f"{self.id}: a good reading has a value and no reason")
        elif not self.reason:
            raise ValueError(f"{self.id}: a reading is good or has a reason")
        elif (self.value is None) != (self.confidence is Confidence.ABSENT):
            raise ValueError(f"{self.id}: absent and only absent has no value")

    @property
    def id(self) -> str:
        """Field name in JSON lines, API and page: the key, and the place behind a dot where there is one."""
        return f"{self.key}.{self.place}" if self.place else self.key


def absent(key: str, reason: str, place: str = "", doubt: Doubt = Doubt.NONE) -> Reading:
    """A reading that cannot be given, and why."""
    return Reading(key, None, Confidence.ABSENT, reason, place, doubt=doubt)


def doubtful(reading: Reading, reason: str, doubt: Doubt = Doubt.NONE) -> Reading:
    """The same reading with less trust; reasons add up, an absent one stays absent.

    Its uncertainty is gone: what makes it doubtful is not in the budget.
    """
    if reading.confidence is Confidence.ABSENT:
        return reading
    reasons = f"{reading.reason}; {reason}" if reading.reason else reason
    kept = reading.value, Confidence.DOUBTFUL, reasons, reading.place, reading.least
    both = reading.doubt | doubt
    if doubt is Doubt.NONE or (reading.reason and reading.doubt is Doubt.NONE):
        both &= ~(Doubt.AT_LEAST | Doubt.OF_ALL_THE_WINDOW)
    return Reading(reading.key, *kept, doubt=both)


@dataclass(frozen=True, slots=True)
class Instant:
    """Readings that belong to the same moment: the end of the window that they were computed from.

    `board_s` is board time in seconds since the board started (tick / tick_hz); `interval_s` is the
    longest time to the next instant of the same readings that the board promises.
    """

    first_tick: int
    tick: int
    board_s: float
    interval_s: float
    readings: tuple[Reading, ...]


@dataclass(frozen=True, slots=True)
class StateChange:
    """From `board_s` on the run state is another. It was told at `told_s`, up to seconds later: what lies between them
    was told as something else meanwhile, and is this. `give_s`: the moment may be off by so much; 0: by a row."""

    board_s: float
    told_s: float
    state: str
    give_s: float = 0.0


@dataclass(frozen=True, slots=True)
class Fast:
    """Rows every 10 ms for the strip since the start and for run states; NaN where there is none.

    All arrays have shape (rows,): end of the row in board seconds, RMS (direct current: mean of the
    magnitude) of the motor's main voltage and current, and speed (signed when the direction is known).
    `changes`: of the run state, told by one of these rows.
    """

    board_s: NDArray[np.float64]
    voltage_v: NDArray[np.float64]
    current_a: NDArray[np.float64]
    speed_rpm: NDArray[np.float64]
    changes: tuple[StateChange, ...] = ()


@dataclass(frozen=True, slots=True)
class Event:
    """Something that happened at a moment. `text` is past tense, thing first; figures stand in `detail`.

    `value`: the figure in the text of those kinds that have one (running: seconds from the start to speed).
    """

    kind: str
    board_s: float
    text: str
    detail: str = ""
    decisive: bool = False
    value: float | None = None


@dataclass(frozen=True, slots=True)
class DamageReport:
    """Damage on the wire in the words a person reads. `samples` counts sample sets that are missing by it."""

    kind: str
    board_s: float | None
    text: str
    frames: int = 0
    samples: int = 0
