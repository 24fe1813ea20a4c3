"""Room for raw samples: what a plan keeps of them, what is given up next, how long there is room. Pure.

Readings, summaries, events and all that a person said are not touched by any plan: it is about sample bytes alone.
"""

from bisect import bisect_right
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

FREE_BYTES_MIN = 1_000_000_000  # so much of the disk is left untouched,
FREE_SHARE_MIN = 0.05  # or this share of a small one
THIN_BELOW_S = 2 * 3600.0  # room for less than that: it is thinned, an hour before anybody is cautioned
HOUR_S = 3600.0
TOLD_LATE_S = 15.0  # so late an event may be told after it happened: a start that was seen to fail, a state
ARRIVE_S = 2.0  # so late a sample may come after it was taken: blocks are dated by arrival

Span = tuple[float, float]  # UTC seconds


@dataclass(frozen=True, slots=True)
class Plan:
    """What a person agreed to: samples this long before and after each event and alarm are kept whole, and this long
    of each hour."""

    around_s: float
    each_hour_s: float

    @property
    def words(self) -> str:
        return f"{self.around_s:g} s before and after each event and alarm, and {self.each_hour_s:g} s of each hour"


@dataclass(frozen=True, slots=True)
class Packed:
    """A packed segment to which nothing is added: where it is, of which rig, its bytes, and whether it was thinned."""

    run: str
    name: str
    rig: str
    from_utc_s: float
    to_utc_s: float
    bytes: int
    thinned: bool = False


def least_free(total_bytes: int) -> int:
    """Below so many free bytes no sample is recorded."""
    return min(FREE_BYTES_MIN, int(FREE_SHARE_MIN * total_bytes))


def unknown_spans(plan: Plan, missing: Iterable[Span]) -> list[Span]:
    """What is kept whole as something may have happened in it that no log knows, told up to TOLD_LATE_S late."""
    margin_s = plan.around_s + TOLD_LATE_S
    return [(since_s - margin_s, until_s + margin_s + ARRIVE_S) for since_s, until_s in missing]


def kept_spans(
    plan: Plan,
    moments_utc_s: Iterable[float],
    block_starts_utc_s: Iterable[float],
    missing: Iterable[Span] = (),
) -> list[Span]:
    """What is kept whole, in turn, apart from each other.

    `moments_utc_s`: of all events and alarms; `block_starts_utc_s`: when each block of the whole run began. The sample
    of an hour (UTC) is from its first block on, so that one in which the board came late has one too. `missing`: of
    these stretches it is not known what happened.
    """
    spans = [(at_s - plan.around_s, at_s + plan.around_s + ARRIVE_S) for at_s in moments_utc_s]
    firsts: dict[int, float] = {}
    for start_s in block_starts_utc_s:
        hour = int(start_s // HOUR_S)
        firsts[hour] = min(start_s, firsts.get(hour, start_s))
    spans += [(start_s, start_s + plan.each_hour_s) for start_s in firsts.values()]
    spans += unknown_spans(plan, missing)
    merged: list[Span] = []
    for begin_s, end_s in sorted(spans):
        if merged and begin_s <= merged[-1][1]:
            merged[-1] = merged[-1][0], max(merged[-1][1], end_s)
        else:
            merged.append((begin_s, end_s))
    return merged


def is_kept(begin_s: float, end_s: float, spans: Sequence[Span]) -> bool:
    """Whether something of a block from `begin_s` to `end_s` lies in spans as `kept_spans` gives them."""
    after = bisect_right(spans, (end_s, float("inf")))  # the first that begins behind it
    return after > 0 and spans[after - 1][1] >= begin_s


def next_to_thin(there: Iterable[Packed], plans: Mapping[str, Plan], wanted_bytes: float) -> list[Packed]:
    """The oldest packed segments of rigs with a plan, of one run, until they hold so many bytes; none: there are none.

    `plans`: by the rig's name.
    """
    may = sorted((each for each in there if each.rig in plans and not each.thinned), key=lambda each: each.from_utc_s)
    chosen, size = list[Packed](), 0
    for each in may:
        if size >= wanted_bytes:
            break
        if each.run == may[0].run:
            chosen.append(each)
            size += each.bytes
    return chosen


def given_up_bytes(there: Iterable[Packed], plans: Mapping[str, Plan]) -> float:
    """How many bytes a plan may still give up, at least by its hours: what stands around events is not counted."""
    may = ((each.bytes, plans[each.rig]) for each in there if each.rig in plans and not each.thinned)
    return sum(size * max(0.0, 1.0 - plan.each_hour_s / HOUR_S) for size, plan in may)


def left_s(free_bytes: float, least_bytes: float, may_be_given_up_bytes: float, bytes_per_s: float) -> float | None:
    """For how long there is room for samples; None while nothing is recorded."""
    room_bytes = max(0.0, free_bytes - least_bytes) + may_be_given_up_bytes
    return room_bytes / bytes_per_s if bytes_per_s > 0.0 else None
