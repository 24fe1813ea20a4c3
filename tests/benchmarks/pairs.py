"""Time a thing and its reference in turn, so that a ratio holds although the machine's speed drifts."""

from collections.abc import Callable
from dataclasses import dataclass
from statistics import median
from time import process_time


@dataclass(frozen=True, slots=True)
class Row:
    """One line of the speed table: `ratio` against the reference, and the goal it must not pass."""

    goal: str
    what: str
    ratio: float
    at_most: float
    note: str = ""

    @property
    def met(self) -> bool:
        return self.ratio <= self.at_most


def cpu_ratio(
    thing: Callable[[], object], reference: Callable[[], object], pairs: int = 9, batch_s: float = 0.05
) -> float:
    """Median of thing/reference over `pairs` of batches of about `batch_s` each, CPU time of this process."""
    rounds = [_rounds(run, batch_s) for run in (thing, reference)]
    ratios = []
    for _ in range(pairs):
        seconds = [_cpu_s(run, count) / count for run, count in zip((thing, reference), rounds, strict=True)]
        ratios.append(seconds[0] / seconds[1])
    return median(ratios)


def _rounds(run: Callable[[], object], batch_s: float) -> int:
    run()  # caches and lazy imports are not what is measured
    once = max(_cpu_s(run, 3) / 3, 1e-7)
    return max(1, round(batch_s / once))


def _cpu_s(run: Callable[[], object], count: int) -> float:
    start = process_time()
    for _ in range(count):
        run()
    return process_time() - start
