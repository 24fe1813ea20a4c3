"""A cycle under way, and the figures that are made of it when it ends. Records and pure functions."""

from dataclasses import dataclass, field, replace
from math import sqrt

import numpy as np
from numpy.typing import NDArray

from server.duty import inrush
from server.duty.cycle import Begun, Bound, Cycle, Figure
from server.duty.inrush import Inrush
from server.duty.spent import Spent
from server.duty.steady import Mean
from server.quantities.reasons import joined
from server.quantities.uncertainty import NORMAL_95
from server.readings import Reading
from server.samples import Channel

ROW_S = 0.01
TIME_HALF_S = NORMAL_95 * ROW_S * sqrt(2.0 / 3.0)  # between two moments, each anywhere within a row on either side
ROWS_MAX = 3000  # of a start, 30 s: a longer one has no figures of its start
BRAKED = 0.1  # of the speed at which it ran: what loses its current this slow was brought down by its drive
STANDS = sqrt(2.0)  # braked by friction that does not fall with the speed, a shaft stands up to 1 + sqrt(2) times the
# last interval between edges behind the last edge; the run state dates it one interval behind that edge
_UNSEEN = "its start was not seen"
_NEVER_UP = "it was not up to speed before its current ended"
_HELD = "its shaft was held meanwhile"
_NO_SENSOR = "there is no speed sensor"
_LONG = f"the start took longer than {ROWS_MAX * ROW_S:.0f} s"
_ON = "it is still on"
_MISSING = "samples of the start are missing"
_LOST = "samples are missing"

Rows = NDArray[np.float64]  # (2, rows): board time of the end of each, and its current in A
Ran = tuple[float, Reading | None, Reading | None]  # a window that ran: board time of its end, current, speed


@dataclass(frozen=True, slots=True)
class Going:
    """`rows` of its start until it is up to speed; `heat`, `start_heat`: A²s of the whole and of the start.

    `running`: the newest windows in which it seemed to run: a stall is told late, and dated back into them. `current`,
    `speed`: of all before these. `lost`: samples are missing; `lost_start`: of its start; `on_hidden_s`,
    `off_hidden_s`, `before_hidden_s`: where they may hide a stop or a start. `up_s`, `off_s`, `rest_s`: since when it
    runs, has no current, stands; None: not yet. `sensor`: a speed is measured; `up_give_s`: time from one of its edges
    to the next. `in_gap`: its current ended while samples were missing.
    """

    number: int
    start_s: float
    begun: Begun
    channel: Channel | None = None
    sensor: bool = False
    inrush: Inrush = field(default_factory=Inrush)
    rows: tuple[Rows, ...] | None = ()
    heat: float = 0.0
    start_heat: float | None = None
    running: tuple[Ran, ...] = ()
    current: Mean = field(default_factory=Mean)
    speed: Mean = field(default_factory=Mean)
    spent: Spent = field(default_factory=Spent)
    lost: bool = False
    lost_start: bool = False
    on_hidden_s: float = 0.0
    off_hidden_s: float = 0.0
    before_hidden_s: float = 0.0
    up_s: float | None = None
    up_give_s: float = 0.0
    held: bool = False
    off_s: float | None = None
    off_rpm: float = float("nan")
    in_gap: bool = False
    rest_s: float | None = None
    rest_give_s: float = 0.0
    stalls: int = 0
    reversals: int = 0

    @property
    def on(self) -> bool:
        return self.off_s is None

    @property
    def starts(self) -> bool:
        """It is not up to speed yet."""
        return self.on and self.up_s is None and self.rows is not None and self.begun is Begun.SEEN


def settled(going: Going, to_s: float) -> Going:
    """It ran up to that moment: windows that ended by then count, later ones do not."""
    current, speed = going.current, going.speed
    for end_s, drawn, turned in going.running:
        if end_s <= to_s:
            current, speed = current.take(drawn), speed.take(turned)
    return replace(going, running=(), current=current, speed=speed)


def heat_of(rows: Rows, from_s: float, to_s: float) -> float:
    """Current squared times time of the rows that end in between, in A²s; those that did not come count nothing."""
    inside = (rows[0] > from_s) & (rows[0] <= to_s)
    return float(np.nansum(np.square(rows[1, inside])) * ROW_S)


def cycle_of(going: Going, next_s: float | None, last_s: float, why: str = "") -> Cycle:
    """The cycle as it is known. `next_s`: when the next start came; None: none yet. `last_s`: what is known ends here,
    `why`: because of this."""
    going = settled(going, last_s)
    figures = {
        "starting_time_s": _starting_time(going),
        **_inrush(going),
        "steady_current_a": going.current.figure(),
        "current_spread": going.current.spread(),
        "steady_speed_rpm": going.speed.figure(),
        "coasting_time_s": _coasting_time(going, next_s),
        "energy_wh": going.spent.figure(going.begun is Begun.SEEN, going.lost),
        "on_time_s": _on_time(going, last_s),
        "off_time_s": _off_time(going, next_s, last_s),
        "start_heat": _start_heat(going),
    }
    hidden_s = going.on_hidden_s + going.off_hidden_s + going.before_hidden_s
    ran_rpm = abs(going.speed.value or 0.0)
    braked = not going.stalls and ran_rpm > 0.0 and abs(going.off_rpm) < BRAKED * ran_rpm
    return Cycle(
        going.number, going.start_s, going.begun, figures, _doubts(going, why), hidden_s,
        going.stalls, going.reversals, braked, next_s is not None,
    )  # fmt: skip


def _doubts(going: Going, why: str) -> tuple[str, ...]:
    told = []
    if going.begun is Begun.BEFORE:
        told.append("it was on already when it was first looked at: that start is not counted")
    if going.begun is Begun.UNSEEN:
        told.append("it was off, and then on: the start between was not seen")
    for seconds, words in (
        (going.before_hidden_s, "before its start are missing: another start may lie in them"),
        (going.on_hidden_s, "while it was on are missing: it may have stopped and started again"),
        (going.off_hidden_s, "while it was off are missing: it may have run meanwhile"),
    ):
        if seconds:
            told.append(
                f"{seconds:.2g} s of samples {words}" if seconds < 10 else f"{seconds:.0f} s of samples {words}"
            )
    return (*told, why) if why else tuple(told)


def _starting_time(going: Going) -> Figure:
    if going.begun is not Begun.SEEN:
        return Figure(None, reason=_UNSEEN)
    if going.up_s is None:
        return Figure(None, reason=_ON if going.on else _NEVER_UP)
    if going.lost_start:  # the run state learns speed and level anew behind a gap, and dates nothing before it
        return Figure(None, reason=_MISSING)
    value = going.up_s - going.start_s
    reason = joined("" if going.sensor else f"{_NO_SENSOR}: until its current had settled", _HELD if going.held else "")
    return Figure(value, None if reason else TIME_HALF_S + going.up_give_s, reason)


def _inrush(going: Going) -> dict[str, Figure]:
    if going.begun is not Begun.SEEN or going.channel is None:
        why = _UNSEEN if going.begun is not Begun.SEEN else "no channel measures its current"
        return dict.fromkeys(("inrush_peak_a", "inrush_half_cycle_a"), Figure(None, reason=why))
    return inrush.figures(going.inrush, going.channel)


def _coasting_time(going: Going, next_s: float | None) -> Figure:
    if going.off_s is None:
        return Figure(None, reason=_ON)
    if not going.sensor:
        return Figure(None, reason=_NO_SENSOR)
    if going.rest_s is None:
        again = "it was started again before it was known to stand"
        return Figure(None, reason="it is not known to stand yet" if next_s is None else again)
    reason = "its current ended while samples were missing" if going.in_gap else ""
    half = TIME_HALF_S + STANDS * going.rest_give_s
    return Figure(max(going.rest_s - going.off_s, 0.0), None if reason else half, reason)


def _on_time(going: Going, last_s: float) -> Figure:
    if going.off_s is None:
        return Figure(max(last_s - going.start_s, 0.0), None, _ON, Bound.LEAST)
    value = max(going.off_s - going.start_s, 0.0)
    if going.begun is not Begun.SEEN:
        return Figure(value, None, _UNSEEN, Bound.NONE if going.in_gap else Bound.LEAST)
    if going.in_gap:
        return Figure(value, None, "its current ended while samples were missing", Bound.MOST)
    return Figure(value, TIME_HALF_S)


def _off_time(going: Going, next_s: float | None, last_s: float) -> Figure:
    if going.off_s is None:
        return Figure(None, reason=_ON)
    if next_s is None:
        return Figure(max(last_s - going.off_s, 0.0), None, "it has not started again", Bound.LEAST)
    if going.in_gap:
        why = "its current ended while samples were missing"
        return Figure(max(next_s - going.off_s, 0.0), None, why, Bound.LEAST)
    return Figure(max(next_s - going.off_s, 0.0), TIME_HALF_S)


def _start_heat(going: Going) -> Figure:
    if going.begun is not Begun.SEEN:
        return Figure(None, reason=_UNSEEN)
    if going.start_heat is None or not going.heat:
        return Figure(None, reason=_LONG if going.rows is None and going.up_s is None else _NEVER_UP)
    if going.lost_start:
        return Figure(None, reason=_MISSING)
    return Figure(100.0 * min(going.start_heat / going.heat, 1.0), reason=_LOST if going.lost else "")
