"""How many pole pairs the motor has: by marked turns, and by the pattern of a shaft that runs down. Pure."""

import numpy as np

from server.verdict import Certainty, NextTest, Sign, Speaks, Verdict
from server.wiring.faults.fault import TURNING
from server.wiring.figures import PolePairs
from server.wiring.grounds import Grounds
from server.wiring.kinds import KINDS
from server.wiring.sweeps import Sweep, longest_sweep, runs_down

QUESTION = "How many pole pairs?"
PAIRS_MAX = 50
_NEAR, _SURE, _OTHERS = 0.8, 0.7, 0.4  # of the greatest peak; from which a peak is sure, and what others may reach
_LIKE = 0.93  # of the greatest peak: below it magnets that are much alike after a part of a turn would do
_TURNS = 2  # of running down
_TEST = NextTest(
    "Mark shaft and case. Turn exactly one turn, from mark to mark, and once more for a second count.",
    TURNING,
)


def pole_pairs_of(grounds: Grounds) -> PolePairs:
    """Both ways; an earlier count that gives the same number makes it sure."""
    found = [counted(turns, edges) for turns, edges in grounds.known.counted]
    last = found[-1] if found else None
    sure = last is not None and len(found) > 1 and found[-2] == last
    pattern, plain = by_pattern(longest_sweep(grounds.visits, grounds.course))
    return PolePairs(last, sure, pattern, plain)


def counted(turns: int, edges: int) -> int | None:
    """Pole pairs of so many edges in marked turns, None where no whole number is within one edge."""
    pairs = round(edges / (KINDS * turns)) if turns else 0
    return pairs if pairs >= 1 and abs(edges - KINDS * turns * pairs) <= 1 else None


def by_pattern(sweep: Sweep) -> tuple[int | None, bool]:
    """The turn after which the pattern of a shaft that runs down repeats; None where it is no such shaft.

    The lengths of sectors against their electrical turn, less the mean of each of the six kinds, which is placement;
    what is left is the magnets', and is like itself after each whole turn.
    """
    ticks = sweep.ticks
    if ticks.shape[0] < 3 * KINDS * _TURNS:
        return None, False
    lasted = np.diff(ticks).astype(np.float64)
    around = (ticks[KINDS:] - ticks[:-KINDS]) / KINDS
    if not runs_down((ticks - ticks[0]).astype(np.float64)):
        return None, False
    centre = KINDS // 2
    left = lasted[centre : centre + around.shape[0]] / around - 1.0
    left = left[: left.shape[0] // KINDS * KINDS]
    table = left.reshape(-1, KINDS)
    row = (table - table.mean(axis=0)).ravel()
    most = min(PAIRS_MAX, row.shape[0] // (KINDS * _TURNS))
    if most < 2:
        return None, False
    alike = np.array([_alike(row, KINDS * pairs) for pairs in range(1, most + 1)])
    peak = float(alike.max())
    if peak <= 0.0:
        return None, False
    pairs = int(np.flatnonzero(alike >= _NEAR * peak)[0]) + 1
    others = np.array([value for lag, value in enumerate(alike, 1) if lag % pairs])
    alone = not others.size or others.max() < _OTHERS
    return pairs, bool(peak > _SURE and alone and alike[pairs - 1] >= _LIKE * peak)


def _alike(row: np.ndarray, lag: int) -> float:
    one, other = row[:-lag], row[lag:]
    size = float(np.sqrt((one @ one) * (other @ other)))
    return float(one @ other) / size if size > 0.0 else 0.0


def pairs_verdict(grounds: Grounds, found: PolePairs) -> Verdict | None:
    """Against the plate; None where nothing was counted and no pattern is sure."""
    if grounds.known.counted and found.counted is None:
        return _no_whole_number(*grounds.known.counted[-1])
    pairs = found.counted if found.counted is not None else found.by_pattern if found.by_pattern_sure else None
    if pairs is None:
        return None
    plate = grounds.known.pole_pairs
    agree = found.counted is not None and found.by_pattern_sure and found.by_pattern == found.counted
    certainty = Certainty.PLAIN if found.counted_sure or agree else Certainty.PROBABLE
    signs = _signs(grounds, found)
    if plate and plate != pairs:
        off = f"All speeds would be {pairs / plate:.2g} times too high." if pairs > plate else ""
        off = off or f"All speeds would be {pairs / plate:.2g} of what they are."
        answer = f"{pairs} pole pairs, the plate says {plate}. {off}"
        more, less = max(pairs, plate), min(pairs, plate)
        turns = f"{more // less} turns" if pairs > plate else f"1/{more // less} of a turn"
        opens = (f"{turns} counted as one would look the same.",) if found.counted and more % less == 0 else ()
        return Verdict("pole_pairs_differ", QUESTION, answer, certainty, signs, opens, _TEST)
    same = ", as the plate says" if plate else ""
    return Verdict("pole_pairs_counted", QUESTION, f"{pairs} pole pairs{same}.", certainty, signs, (), _TEST)


def _signs(grounds: Grounds, found: PolePairs) -> tuple[Sign, ...]:
    signs = [
        Sign(
            Speaks.FOR if counted(turns, edges) == found.counted else Speaks.AGAINST,
            f"{_turns(turns).capitalize()} gave {edges} edges.",
        )
        for turns, edges in reversed(grounds.known.counted)
    ]
    if found.by_pattern is not None:
        says = Speaks.FOR if found.by_pattern == found.counted or found.counted is None else Speaks.AGAINST
        sure = "" if found.by_pattern_sure else ", not plainly"
        signs.append(Sign(says, f"Running down, the pattern repeats after {6 * found.by_pattern} edges{sure}."))
    return tuple(signs)


def _turns(turns: int) -> str:
    return "one turn" if turns == 1 else f"{turns} turns"


def _no_whole_number(turns: int, edges: int) -> Verdict:
    near = max(1, round(edges / (KINDS * turns)))
    answer = (
        f"Can't tell yet: {edges} edges in {_turns(turns)} fit no whole number; {near} would give {6 * near * turns}."
    )
    return Verdict(
        "pole_pairs_open",
        QUESTION,
        answer,
        Certainty.OPEN,
        (Sign(Speaks.MISSING, "Edges over six must be a whole number within one edge."),),
        (),
        _TEST,
    )
