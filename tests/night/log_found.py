"""The log of a night beside its truth: whole windows, events, gaps, and what the alarms said."""

import json
import re
import sqlite3
from collections import defaultdict
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path
from typing import Any

from server.runs.log.dated import read_dated
from tests.night.stored import Missing, Stored

WINDOW_S = 0.2
SILENT_S, LOOKS_S = 10.0, 2.5  # a board is told as gone after so long; looks lie so far apart at most, in bench time
QUICK, QUICK_S, QUIET_S = 3, 1800.0, 600.0  # so often in such a time chatters, and ends when it was quiet for so long
RATE_HZ, TICK_HZ = 20_000, 1_000_000
GAP_S = 2.0  # a hole as long as this is an event of its own
_SAMPLES = ("samples", 0)


def checked(run: Path) -> tuple[str, dict[str, Any]]:
    """SQLite's own answer, and what the log says of itself."""
    with closing(sqlite3.connect(f"file:{run / 'log.sqlite'}?mode=ro", uri=True)) as base:
        (answer,) = base.execute("PRAGMA integrity_check").fetchone()
        return str(answer), dict(base.execute("SELECT key, value FROM meta").fetchall())


def windows(run: Path, there: Stored) -> tuple[int, int, list[str]]:
    """How many whole windows are stored, how many have their readings in the log, and what is wrong."""
    per_window, ticks = round(WINDOW_S * RATE_HZ), round(WINDOW_S * TICK_HZ)
    logged, wrong = _logged(run, ticks), list[str]()
    due = 0
    for boot in sorted({boot for boot, counter in there.by_place if counter == _SAMPLES}):
        its = logged.get(boot, {})
        for first, behind in there.by_place[boot, _SAMPLES]:
            whole = range(-(-first // per_window), behind // per_window)
            due += len(whole)
            absent = [k for k in whole if (k + 1) * ticks not in its]
            if absent:
                wrong.append(
                    f"start {boot}: {len(absent)} windows have no readings, the first at {absent[0] * WINDOW_S:.1f} s"
                )
        wrong += [f"start {boot}: the window to tick {tick} is there {n} times" for tick, n in its.items() if n > 1][:3]
    return due, sum(len(its) for its in logged.values()), wrong


def _logged(run: Path, ticks: int) -> dict[int, dict[int, int]]:
    """By the start of the board, counted from 1: the last tick of each window, and how often it is there."""
    out: dict[int, dict[int, int]] = defaultdict(lambda: defaultdict(int))
    boot, before = 1, -1
    with closing(sqlite3.connect(f"file:{run / 'log.sqlite'}?mode=ro", uri=True)) as base:
        rows = base.execute("SELECT first_tick, tick FROM instants WHERE interval_s = ? ORDER BY number", (WINDOW_S,))
        for first, tick in rows:
            if first % ticks or tick % ticks or first == tick:
                continue
            boot += tick < before - 10 * ticks  # the count began again
            before = tick
            out[boot][tick] += 1
    return out


def events(run: Path, kind: str) -> list[tuple[float, dict[str, Any]]]:
    """UTC and record of each event of that kind."""
    with closing(sqlite3.connect(f"file:{run / 'log.sqlite'}?mode=ro", uri=True)) as base:
        rows = base.execute("SELECT utc_s, record FROM events WHERE kind = ? ORDER BY number", (kind,)).fetchall()
        return [(utc_s, json.loads(record)) for utc_s, record in rows]


def gap_events(run: Path, missing: list[Missing], anew: list[int], wall_s: float) -> tuple[int, int, list[str]]:
    """Holes of two seconds and more within one start of the board and one of the service, those of them that have
    exactly one event with their length, and what is wrong. `anew`: starts of which the first samples are missing;
    `wall_s`: how far UTC is ahead of bench time."""
    told = [(utc_s - wall_s, _samples_in(record["detail"])) for utc_s, record in events(run, "gap")]
    due = [
        each
        for each in missing
        if each.place[1] == _SAMPLES
        and each.behind - each.first >= GAP_S * RATE_HZ
        and each.reason != "service not running"
        and not (each.place[0] in anew and each.first == 0)
    ]
    wrong, found = list[str](), 0
    for hole in due:
        its = [count for at_s, count in told if hole.from_s - 1.0 <= at_s <= hole.to_s and count >= GAP_S * RATE_HZ]
        count = hole.behind - hole.first
        if len(its) == 1 and 0 <= its[0] - count <= WINDOW_S * RATE_HZ:  # its window may have lost others
            found += 1
        else:
            wrong.append(f"the hole of {count} samples {hole.from_s:.1f} s into the night is told as {its}")
    return len(due), found, wrong


def _samples_in(detail: str) -> int:
    found = re.match(r"(\d+) sample", detail)
    return int(found[1]) if found else 0


def notices(run: Path, act: str) -> Iterator[dict[str, Any]]:
    """What was kept of the alarms that asked for this act; once over they ask to look why they came."""
    kept = [dict(each.said) for each in read_dated(run, ("alarm",))]
    asked = {each["id"] for each in kept if each["act"] == act}
    return (each for each in kept if each["id"] in asked)


def lives(silences: list[tuple[float, float]]) -> tuple[int, int]:
    """How often "no samples" is to be raised for silences while the motor ran (from, to), and how often it is folded
    into the alarm that stands: a rule that came three times in half an hour stands until ten minutes were quiet."""
    raised = folded = 0
    came: list[float] = []
    stands_to_s = -1.0
    for from_s, to_s in silences:
        at_s = from_s + SILENT_S
        came = [each for each in came if at_s - each < QUICK_S]
        came = [*came, at_s][-QUICK:]
        if at_s < stands_to_s:
            folded += 1
        else:
            raised += 1
        chatters = len(came) == QUICK
        stands_to_s = to_s + (QUIET_S if chatters else 0.0)
    return raised, folded
