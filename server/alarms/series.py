"""What a drift is looked for in: means of blocks of ten minutes in which the motor ran warm. Pure and bounded."""

from dataclasses import dataclass, replace

import numpy as np

from server.alarms.drift import BLOCK_S, BLOCKS_MAX, Trend, drifted, trend
from server.alarms.watched import Figures, Numbers

SETTLE_S = 10.0  # after each start (ours)
WARM_S = 3600.0  # of running on and off: until then everything drifts because it gets warm (ours)
COLD_S = 3600.0  # of rest: then it must get warm again
LOOKS_MIN = 10  # good windows in a block, two seconds of running


@dataclass(frozen=True, slots=True)
class Block:
    """The mean of each figure over the block that begins at `begin_s`."""

    begin_s: float
    means: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class Series:
    """Of one set of figures, by their names. `sums`, `looks`: of the block that is filled. `drift`: what was found,
    until it is begun anew."""

    names: tuple[str, ...] = ()
    blocks: tuple[Block, ...] = ()
    begin_s: float | None = None
    sums: tuple[float, ...] = ()
    looks: int = 0
    ran_s: float | None = None  # when it last ran
    warming_s: float | None = None  # since when it runs on and off
    started_s: float | None = None  # the last start
    drift: tuple[Trend, ...] = ()


def taken(
    series: Series, figures: Figures, numbers: Numbers, running: bool, at_s: float, least_percent: float
) -> Series:
    """One window more. `at_s`: seconds on a clock that never steps and outlives the board's starts."""
    series = _closed(series, figures, at_s, least_percent)
    if not running:
        return replace(series, started_s=None) if series.started_s is not None else series
    rested = series.ran_s is None or at_s - series.ran_s > COLD_S
    warming_s = at_s if rested or series.warming_s is None else series.warming_s
    started_s = at_s if series.started_s is None else series.started_s
    series = replace(series, ran_s=at_s, warming_s=warming_s, started_s=started_s)
    if at_s - warming_s < WARM_S or at_s - started_s < SETTLE_S:
        return series
    return _added(series, figures, numbers, at_s)


def _added(series: Series, figures: Figures, numbers: Numbers, at_s: float) -> Series:
    values = tuple(figure.of(numbers) for figure in figures)
    known = tuple(value for value in values if value is not None)
    if len(known) < len(values):
        return series
    if series.begin_s is None:
        return replace(series, begin_s=at_s, sums=known, looks=1)
    sums = tuple(sum_ + value for sum_, value in zip(series.sums, known, strict=True))
    return replace(series, sums=sums, looks=series.looks + 1)


def _closed(series: Series, figures: Figures, at_s: float, least_percent: float) -> Series:
    """With the block that has come to its end, and what all blocks say then."""
    if series.begin_s is None or at_s - series.begin_s < BLOCK_S:
        return series
    blocks = series.blocks
    if series.looks >= LOOKS_MIN:
        means = tuple(sum_ / series.looks for sum_ in series.sums)
        blocks = (*blocks, Block(series.begin_s, means))[-BLOCKS_MAX:]
    return _asked(replace(series, blocks=blocks, begin_s=None, sums=(), looks=0), figures, least_percent)


def with_one(series: Series, figures: Figures, numbers: Numbers, at_s: float, least_percent: float) -> Series:
    """Figures that come once in a while, of one moment: each time is a block of its own."""
    values = tuple(value for figure in figures if (value := figure.of(numbers)) is not None)
    if series.warming_s is None or at_s - series.warming_s < WARM_S or len(values) < len(figures):
        return series
    blocks = (*series.blocks, Block(at_s, values))[-BLOCKS_MAX:]
    return _asked(replace(series, blocks=blocks), figures, least_percent)


def _asked(series: Series, figures: Figures, least_percent: float) -> Series:
    """What the blocks say; a drift that was found stands."""
    if series.drift:
        return series
    found = trends(series)
    if found and all(drifted(its, figure.sign, least_percent) for its, figure in zip(found, figures, strict=True)):
        return replace(series, drift=tuple(its for its in found if its is not None))
    return series


def trends(series: Series) -> tuple[Trend | None, ...]:
    """Of each figure, over all blocks that are kept."""
    if not series.blocks:
        return ()
    times = np.array([block.begin_s for block in series.blocks])
    return tuple(trend(times, np.array(means)) for means in zip(*(block.means for block in series.blocks), strict=True))


def of_these(series: Series, figures: Figures) -> Series:
    """The series where it is of these figures; what was kept of others, by another setting, says nothing of them."""
    names = tuple(figure.name for figure in figures)
    return series if series.names == names else Series(names)


def anew(series: Series) -> Series:
    """Learn again from here on: what was found is known now."""
    return Series(series.names, ran_s=series.ran_s, warming_s=series.warming_s, started_s=series.started_s)
