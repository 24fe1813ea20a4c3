"""What a report tells of a run, as numbers and sentences. Records only: words and layout are made from them."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from server.alarms.notice import Notice
from server.config import MotorSettings
from server.report.holes import Hole
from server.samples import Channel
from server.verdict import Verdict


@dataclass(frozen=True, slots=True)
class Happened:
    """An event at its moment."""

    utc_s: float
    kind: str
    text: str
    detail: str
    decisive: bool


@dataclass(frozen=True, slots=True)
class Statistic:
    """One reading over the windows in which the motor ran. `u95`: the mean of the windows' half intervals, None where
    not one had any: what is systematic does not average out, so that of the mean is no wider than this. `good`,
    `doubtful`, `absent`: windows."""

    id: str
    mean: float
    u95: float | None
    low: float
    low_utc_s: float
    high: float
    high_utc_s: float
    good: int
    doubtful: int
    absent: int


@dataclass(frozen=True, slots=True)
class Trend:
    """A quantity from end to end: mean, lowest and highest of each column, NaN where nothing came. `bound`: the sign
    before the last value, where that is only a bound."""

    label: str
    unit: str
    kind: str  # voltage, current, speed or other: how its line is drawn
    from_utc_s: float
    column_s: float
    mean: NDArray[np.float64]
    low: NDArray[np.float64]
    high: NDArray[np.float64]
    bound: str = ""


@dataclass(frozen=True, slots=True)
class Spell:
    """A stretch of one run state."""

    state: str
    from_utc_s: float
    to_utc_s: float


@dataclass(frozen=True, slots=True)
class Damage:
    """What was wrong on the wire, by kind."""

    kind: str
    times: int
    frames: int
    samples: int
    example: str


@dataclass(frozen=True, slots=True)
class Board:
    """Who measured."""

    serial: str
    model: str
    firmware: str
    source: str
    protocol: str


TEST_PLAN, DUTY = "Test plan", "Duty"  # titles of parts that say so where there is nothing to tell


@dataclass(frozen=True, slots=True)
class Extra:
    """A part of the report that another room tells: a sentence, and rows where there are any; the first is the head.

    `shares`: widths of the columns, empty: all alike; `right`: columns of numbers; `first`: for the first page.
    """

    title: str
    sentence: str
    rows: tuple[tuple[str, ...], ...] = ()
    shares: tuple[float, ...] = ()
    right: tuple[int, ...] = ()
    first: str = ""


@dataclass(frozen=True, slots=True)
class Report:
    """All of it. `spent`: of each run state, how often and for how many seconds; `spells` are those that are drawn.
    `counts`: of all events, by their kind. `account`: of every counter of the board (`server/runs/account.py`).
    `alarms` None: none were watched for; `standing`: of a run that goes on, ids of those that stand now, and
    whether it is so now. `troubles`: what of the run could not be read. `source`: where the figures come from, in
    words, and `by_summaries`: lines of current, speed and voltage are drawn of those of the log."""

    run: str
    rig: str
    note: str
    software: str
    made_utc_s: float
    from_utc_s: float
    to_utc_s: float
    closed: str
    motor: MotorSettings
    type_label: str
    far_line: tuple[str, ...]
    board: Board | None
    channels: tuple[Channel, ...]
    calibrations: tuple[str, ...]
    settings: str
    spells: tuple[Spell, ...]
    spent: Mapping[str, tuple[int, float]]
    statistics: tuple[Statistic, ...]
    trends: tuple[Trend, ...]
    gaps: tuple[tuple[float, float], ...]
    events: tuple[Happened, ...]
    events_count: int
    counts: Mapping[str, int]
    verdicts: tuple[Verdict, ...]
    damage: tuple[Damage, ...]
    account: tuple[dict[str, Any], ...]
    energy_j: float | None
    troubles: tuple[str, ...]
    alarms: tuple[Notice, ...] | None = None
    extras: tuple[Extra, ...] = ()
    source: str = ""
    by_summaries: bool = False
    standing: Mapping[str, bool] = field(default_factory=dict)
    gone: Hole | None = None  # behind its last sample, where nothing came and the run had not closed

    @property
    def length_s(self) -> float:
        return max(0.0, self.to_utc_s - self.from_utc_s)
