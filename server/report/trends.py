"""Trends of a run drawn: mean line, band from lowest to highest, gaps hatched through all, states below. Pure."""

from collections.abc import Iterator, Sequence
from itertools import groupby

import numpy as np
from numpy.typing import NDArray

from server.quantities import QUANTITIES
from server.report.blocks import Area, Drawing, Hatch, Ink, Label, Line, Point, Shape
from server.report.report import Report, Spell, Trend
from server.report.states import NOT_RECORDED, UNKNOWN
from server.report.words import FAST, Times, length, number

WIDE, LEFT, RIGHT = 700.0, 92.0, 104.0
STRIP, HEAD, MARGIN = 84.0, 8.0, 11.0
RIBBON, AXIS = 12.0, 26.0
_INKS: dict[str, Ink] = {"voltage": "voltage", "current": "current", "speed": "speed"}
_WIDTHS = {"voltage": 1.1, "current": 2.0, "speed": 1.5}  # told apart without colour too
_FLAT = 0.02  # of its mean: a band is never drawn as if less were more
_DIGITS = {each.unit: each.digits for each in reversed(QUANTITIES) if each.unit in ("V", "A", "r/min", "W", "°C")}
_NAMED_WIDE = 52.0  # a spell as wide as its word


def trends_drawing(report: Report, times: Times) -> Drawing | None:
    """None where nothing was measured, or in no time."""
    trends = [each for each in report.trends if np.isfinite(each.mean).any()]
    if not trends or report.length_s <= 0.0:
        return None
    since, to = report.from_utc_s, report.to_utc_s
    foot = HEAD + STRIP * len(trends)
    shapes: list[Shape] = []
    ticks = times.ticks(since, to)
    for at_s, _, _ in ticks:
        shapes.append(Line(((_x(at_s, since, to), HEAD), (_x(at_s, since, to), foot + RIBBON + 8.0)), "rule", 0.4))
    for k, trend in enumerate(trends):
        shapes += _strip(trend, HEAD + STRIP * k, since, to)
    for begin, end in report.gaps:
        x = _x(begin, since, to)
        shapes.append(Hatch(x, HEAD, max(_x(end, since, to) - x, 2.0), foot + RIBBON - HEAD + 4.0))
    shapes += _ribbon(report.spells, foot + 4.0, since, to)
    for at_s, words, below in ticks:
        x = _x(at_s, since, to)
        shapes.append(Label(x, foot + RIBBON + 20.0, words, "second", "middle", size=10.0))
        if below:
            shapes.append(Label(x, foot + RIBBON + 32.0, below, "second", "middle", size=9.0))
    high = foot + RIBBON + AXIS + (12.0 if any(below for _, _, below in ticks) else 0.0)
    return Drawing(WIDE, high, tuple(shapes), _sentence(trends, report))


def _x(utc_s: float, since: float, to: float) -> float:
    return LEFT + (min(max(utc_s, since), to) - since) / (to - since) * (WIDE - LEFT - RIGHT)


def _strip(trend: Trend, top: float, since: float, to: float) -> Iterator[Shape]:
    ink: Ink = _INKS.get(trend.kind, "ink")
    low, high = float(np.nanmin(trend.low)), float(np.nanmax(trend.high))
    middle, half = 0.5 * (low + high), 0.5 * (high - low)
    half = max(half, _FLAT * abs(middle), 1e-9)
    xs = [_x(trend.from_utc_s + (k + 0.5) * trend.column_s, since, to) for k in range(trend.mean.size)]

    def y(value: float) -> float:
        return top + MARGIN + (STRIP - 2.0 * MARGIN) * (0.5 - 0.5 * (value - middle) / half)

    yield Line(((LEFT, top + STRIP), (WIDE - 6.0, top + STRIP)), "rule", 0.6)
    yield Line(((LEFT, y(low)), (LEFT, y(high))), "second", 0.8)  # as far as the data reach
    for points in _runs(trend, xs):
        lows, highs = [(x, y(lo)) for x, lo, _, _ in points], [(x, y(hi)) for x, _, _, hi in points]
        if len(points) > 1:
            yield Area((*highs, *reversed(lows)), ink, light=True)
            yield Line(tuple((x, y(mean)) for x, _, mean, _ in points), ink, _WIDTHS.get(trend.kind, 1.1))
        else:
            yield Line((lows[0], highs[0]), ink, 1.0)
    yield Label(LEFT - 10.0, top + 0.5 * STRIP + 4.0, trend.label, ink, "end", strong=True)
    yield Label(LEFT - 10.0, top + 0.5 * STRIP + 17.0, trend.unit, "second", "end", size=10.0)
    digits = _DIGITS.get(trend.unit, 1)
    last = trend.mean[np.isfinite(trend.mean)][-1]
    x = WIDE - RIGHT + 8.0
    yield Label(
        x, top + 0.5 * STRIP - 1.0, f"{trend.bound}{number(float(last), digits)}{FAST}{trend.unit}", ink, strong=True
    )
    yield Label(x, top + 0.5 * STRIP + 12.0, f"{number(low, digits)} to {number(high, digits)}", "second", size=10.0)


def _runs(trend: Trend, xs: Sequence[float]) -> Iterator[list[tuple[float, float, float, float]]]:
    """Stretches without a column in which nothing came: no line crosses it."""
    columns = zip(xs, _list(trend.low), _list(trend.mean), _list(trend.high), strict=True)
    for there, run in groupby(columns, lambda each: each[2] == each[2]):
        if there:
            yield list(run)


def _list(values: NDArray[np.float64]) -> list[float]:
    return [float(each) for each in values]


def _ribbon(spells: Sequence[Spell], top: float, since: float, to: float) -> Iterator[Shape]:
    """States as textures, as on the page: resting empty, running tinted, stalled a block, unknown a dashed edge."""
    bottom = top + RIBBON
    for each in spells:
        x1, x2 = _x(each.from_utc_s, since, to), _x(each.to_utc_s, since, to)
        if x2 - x1 < 0.3:
            continue
        corners: tuple[Point, ...] = ((x1, top), (x2, top), (x2, bottom), (x1, bottom))
        if each.state == "running":
            yield Area(corners, "tint", edge=True)
        elif each.state == "stalled":
            yield Area(corners, "alarm", edge=True)
        elif each.state in ("starting", "coasting"):
            yield Area(corners, "paper", edge=True)
            yield Line(((x1, bottom), (x2, top)), "ink", 0.6)
        elif each.state == "resting":
            yield Area(corners, "paper", edge=True)
        elif each.state in (UNKNOWN, NOT_RECORDED):
            yield Line((*corners, corners[0]), "second", 0.7, (2.0, 2.0))
        if each.state == "stalled" and _NAMED_WIDE >= x2 - x1 > 5.0:
            yield Label(0.5 * (x1 + x2), bottom - 3.0, "!", "paper", "middle", strong=True, size=9.0)
        if x2 - x1 > _NAMED_WIDE and each.state != NOT_RECORDED:
            inks: dict[str, Ink] = {"stalled": "paper"}
            x = 0.5 * (x1 + x2)
            yield Label(x, bottom - 3.0, each.state, inks.get(each.state, "ink"), "middle", size=9.0)


def _sentence(trends: Sequence[Trend], report: Report) -> str:
    ends = [(each, float(np.nanmin(each.low)), float(np.nanmax(each.high))) for each in trends]
    told = [f"{each.label} from {number(low, 1)} to {number(high, 1)} {each.unit}" for each, low, high in ends]
    return f"Over {length(report.length_s)}: {'; '.join(told)}"
