"""What a night's run holds, read from its segments by the project's decoder and by nothing else of the service; and
what of the truth is in it."""

from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from itertools import groupby, pairwise
from pathlib import Path
from typing import Any, TypeAlias

from firmware_protocol import Decoder, Received
from server.runs.account import Account
from server.runs.layout import Kind
from server.runs.replay import recorded
from tests.night.truth import Counter, Sent, joined, spans_of

Place: TypeAlias = tuple[int, Counter]  # the start of the board, and what is counted
Stretch: TypeAlias = tuple[int, int]  # first, behind the last
KILL_COSTS_S = 1.0  # what was sent so shortly before a kill may be gone (RUN.md)
FIRST_OF = ("cable out", "service not running", "lost on the wire")  # where several may be it, the first is told


@dataclass
class Stored:
    """`by_place`: what is there, in the order of the count; `account`: by the service; `unread`: sentences."""

    by_place: dict[Place, list[Stretch]] = field(default_factory=dict)
    account: list[dict[str, Any]] = field(default_factory=list)
    unread: list[str] = field(default_factory=list)


def stored(run: Path) -> Stored:
    """Of the whole run; entries come in the order of their numbers."""
    out, account, decoder = Stored(), Account(), Decoder(from_board=True)
    places: dict[Place, list[Stretch]] = defaultdict(list)
    for entry in recorded(run):
        if isinstance(entry, str):
            out.unread.append(entry)
            account.unreadable()
            continue
        account.take(entry)
        if entry.kind is Kind.BEGIN:
            decoder = Decoder(from_board=True)
        elif entry.kind is Kind.CHUNK:
            heard = [each for each in decoder.feed(entry.payload) if isinstance(each, Received)]
            for boot, its in groupby(heard, lambda each: each.boot):
                for what, number, first, behind in joined(span for each in its for span in spans_of(each.message)):
                    _add(places[boot, (what, number)], (first, behind))
    out.by_place, out.account = dict(places), account.record()
    return out


def _add(stretches: list[Stretch], new: Stretch) -> None:
    if stretches and stretches[-1][1] == new[0]:
        stretches[-1] = stretches[-1][0], new[1]
    else:
        stretches.append(new)


@dataclass(frozen=True, slots=True)
class Missing:
    """Something that is not stored, between things that are; `causes`: all of them, `reason`: the one to be told."""

    place: Place
    first: int
    behind: int
    causes: frozenset[str]
    from_s: float
    to_s: float

    @property
    def reason(self) -> str:
        return next((each for each in FIRST_OF if each in self.causes), "")


@dataclass
class Compared:
    """The truth beside what is stored. `wrong`: sentences; `lost_s`: how long before each kill the first was sent that
    it cost, 0 where it cost nothing."""

    promised: dict[Counter, int] = field(default_factory=lambda: defaultdict(int))
    kept: dict[Counter, int] = field(default_factory=lambda: defaultdict(int))
    missing: list[Missing] = field(default_factory=list)
    wrong: list[str] = field(default_factory=list)
    lost_s: list[float] = field(default_factory=list)


def compared(sent: Iterable[Sent], there: Stored, kills_s: list[float], interrupted_s: list[float]) -> Compared:
    """Place by place. What an interruption of the proof itself cost is not known better than to a minute."""
    out, costs = Compared(), dict.fromkeys(kills_s, 0.0)
    by_place: dict[Place, list[Sent]] = defaultdict(list)
    for each in sent:
        by_place[each.boot, each.counter].append(each)
    for place in sorted({*by_place, *there.by_place}):
        stretches = there.by_place.get(place, [])
        if any(a[1] > b[0] for a, b in pairwise(stretches)):
            out.wrong.append(f"{place}: something is stored twice or out of turn")
        if place not in by_place:
            out.wrong.append(f"{place}: is stored, and was never sent")
            continue
        _compare(place, by_place[place], stretches, out, costs, interrupted_s)
    out.lost_s = list(costs.values())
    return out


def _compare(
    place: Place,
    sent: list[Sent],
    stretches: list[Stretch],
    out: Compared,
    costs: dict[float, float],
    interrupted_s: list[float],
) -> None:
    missing = list[Missing]()
    known = place[0] > 1  # of the first start nobody knows what came before
    for each, first, behind, is_there in _pieces(sent, stretches):
        before = next((at_s for at_s in costs if 0.0 <= at_s - each.at_s <= KILL_COSTS_S), None)
        cause = each.cause
        if is_there and cause and not each.maybe:
            out.wrong.append(f"{place}: {first} to {behind} did not come ({cause}) and is stored")
        if is_there:
            continue
        if not cause and before is not None:
            cause, costs[before] = "service not running", max(costs[before], before - each.at_s)
        elif not cause and any(0.0 <= at_s - each.at_s <= 60.0 for at_s in interrupted_s):
            cause = "service not running"
        elif not cause:
            out.wrong.append(f"{place}: {first} to {behind} came {each.at_s:.2f} s into the night and is not stored")
        if missing and missing[-1].behind == first:
            last = missing.pop()
            missing.append(Missing(place, last.first, behind, last.causes | {cause}, last.from_s, each.at_s))
        else:
            missing.append(Missing(place, first, behind, frozenset([cause]), each.at_s, each.at_s))
    if not stretches:
        return
    begins, ends = 0 if known else stretches[0][0], stretches[-1][1]
    promised = ends - begins
    found = [each for each in missing if begins <= each.first and each.behind <= ends]
    kept = sum(behind - first for first, behind in stretches)
    if promised != kept + sum(each.behind - each.first for each in found):
        out.wrong.append(f"{place}: promised {promised}, kept {kept}, and what is missing does not add up to it")
    out.promised[place[1]] += promised
    out.kept[place[1]] += kept
    out.missing += found


def _pieces(sent: list[Sent], stretches: list[Stretch]) -> Iterator[tuple[Sent, int, int, bool]]:
    """What was sent in turn, cut where something is stored begins or ends; whether each piece is stored."""
    k = 0
    for each in sent:
        at = each.first
        while at < each.behind:
            while k < len(stretches) and stretches[k][1] <= at:
                k += 1
            first, behind = stretches[k] if k < len(stretches) else (each.behind, each.behind)
            is_there = first <= at
            until = min(each.behind, behind if is_there else max(first, at + 1))
            yield each, at, until, is_there
            at = until
