"""What a night came to: what was made beside what was found, a row of each, and what is wrong."""

import json
import math
import subprocess
import sys
import time
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np

from tests.night.bench import ROOT
from tests.night.log_found import LOOKS_S, SILENT_S, checked, events, gap_events, lives, notices, windows
from tests.night.stored import KILL_COSTS_S, Compared, Stored, compared, stored
from tests.night.truth import lines, sent_of

CLOCK_S = 1.0  # a bench that runs fast says its time by half seconds
BACK_S = 2.0  # a board that was plugged in again is back within (server/ingest/port.py)
GROWS_MAX_MB = 1.0  # an hour, after the first two: a service that runs for a month then takes less than the PC has
HANDLES_MAX = 0.5  # an hour likewise: 1024 are allowed to a process, and a month has 720 hours
SETTLES_H = 2.0  # rings, caches and the interpreter's own pools are full by then
LOOKS_MIN = 6  # of a slope
JUDGED_H = 8.0  # a shorter night has too few looks behind them
REASONS = {
    "pull": "cable out",
    "unplug": "cable out",
    "restart": "service not running",
    "kill": "service not running",
}
_T_95 = 2.2  # of Student's t, two-sided, from ten looks on (from memory)
SAMPLES = ("samples", 0)


@dataclass
class Row:
    what: str
    made: str
    found: str
    wrong: list[str] = field(default_factory=list)


def found(folder: Path, hours: float) -> list[Row]:
    """All that is checked of a night that is over."""
    told = lines(folder / "journal.jsonl")
    ended = next(line for line in told if line["kind"] == "ended")
    run = folder / "data" / "runs" / ended["run"]
    did = [line for line in told if line["kind"] == "did"]
    there = stored(run)
    kills_s = [line["ended_s"] for line in did if line["what"] == "kill"]
    its = compared(sent_of(told), there, kills_s, [line["at_s"] for line in told if line["kind"] == "interrupted"])
    starts = max(boot for boot, _ in there.by_place)
    rows = [_stored(its, there), *_accounts(its, there, run, starts), *_holes(its, did), *_kills(its, kills_s)]
    rows += [
        *_log(run, there, its, did, told[0]["wall_s"]),
        *_alarms(run, did, ended),
        _night(told, did, ended),
        _report(run, its),
    ]
    return [*rows, *_memory(told, hours)]


def _stored(its: Compared, there: Stored) -> Row:
    made = sum(its.promised.values())
    kept, missing = sum(its.kept.values()), sum(each.behind - each.first for each in its.missing)
    held = f"{kept:,} stored, {missing:,} missing in {len(its.missing)} holes"
    return Row("samples and edges, by the board's own numbers", f"{made:,} promised", held, [*its.wrong, *there.unread])


def _accounts(its: Compared, there: Stored, run: Path, starts: int) -> list[Row]:
    """The service's account, taken from the segments now and as its digest has it."""
    digest = json.loads((run / "digest.json").read_text())
    rows = []
    for name, account in (("account of the segments", there.account), ("account in the digest", digest["account"])):
        wrong = []
        for line in account:
            counter = line["what"], line["number"]
            missing: dict[str, int] = {}
            for each in its.missing:
                if each.place[1] == counter:
                    missing[each.reason] = missing.get(each.reason, 0) + each.behind - each.first
            due = {"promised": its.promised[counter], "stored": its.kept[counter], "missing": missing}
            due |= {"starts_anew": starts - 1, "exact": True}
            wrong += [
                f"{counter} {key}: {line[key]}, true is {value}" for key, value in due.items() if line[key] != value
            ]
        if {(line["what"], line["number"]) for line in account} != set(its.promised):
            wrong.append("it has other counters than the board")
        by_reason = ", ".join(f"{reason} {count:,}" for reason, count in _by_reason(its).items())
        rows.append(Row(name, by_reason, "the same" if not wrong else "another", wrong))
    return rows


def _by_reason(its: Compared) -> dict[str, int]:
    out: dict[str, int] = {}
    for each in its.missing:
        if each.place[1] == SAMPLES:
            out[each.reason] = out.get(each.reason, 0) + each.behind - each.first
    return out


def _holes(its: Compared, did: list[dict[str, Any]]) -> list[Row]:
    """Each cable that was out is one hole in what the board counted, as long as it was out and a little more."""
    rows = []
    for what in ("pull", "unplug"):
        wrong, more_s = list[str](), list[float]()
        made = [line for line in did if line["what"] == what]
        for line in made:
            lost_s = sum(
                (each.behind - each.first) / 20_000
                for each in its.missing
                if each.place[1] == SAMPLES and line["from_s"] <= each.from_s <= line["at_s"]
            )
            if what == "unplug":  # the board began to count when it had its supply again
                lost_s += line["lasts_s"]
            more_s.append(lost_s - line["lasts_s"])
            if not -0.1 <= more_s[-1] <= BACK_S:
                wrong.append(f"{line['from_s']:.1f} s: out for {line['lasts_s']:.2f} s, {lost_s:.2f} s are missing")
        name = "cable pulled" if what == "pull" else "cable pulled, and the board starts anew by it"
        worst = f"back within {max(more_s):.2f} s" if more_s else "none"
        rows.append(Row(name, f"{len(made)}, {sum(line['lasts_s'] for line in made):.0f} s", worst, wrong))
    struck = [each for each in its.missing if each.reason == "lost on the wire"]
    lasts_s = sum(line["lasts_s"] for line in did if line["what"] == "damage")
    rows.append(Row("bytes damaged on the wire", f"for {lasts_s:.0f} s", f"{len(struck)} holes by it"))
    return rows


def _kills(its: Compared, kills_s: list[float]) -> list[Row]:
    wrong = [f"a kill cost {each:.2f} s" for each in its.lost_s if each > KILL_COSTS_S]
    return [Row("service killed", f"{len(kills_s)} times", f"{max(its.lost_s, default=0.0):.2f} s lost at most", wrong)]


def _log(run: Path, there: Stored, its: Compared, did: list[dict[str, Any]], wall_s: float) -> list[Row]:
    answer, meta = checked(run)
    said = {"clean": 1, "closed": 1, "incomplete": "", "lost_instants": 0}
    wrong = [] if answer == "ok" else [f"integrity_check: {answer}"]
    wrong += [f"the log says {key} {meta[key]!r}" for key, value in said.items() if meta[key] != value]
    due, logged, absent = windows(run, there)
    unplugged = [line["boot"] + 1 for line in did if line["what"] == "unplug"]
    holes, told, untold = gap_events(run, its.missing, unplugged, wall_s)
    anew, seen = len(events(run, "board_reset")), sum(line["what"] in ("reset", "unplug") for line in did)
    starts_wrong = [] if anew == seen else [f"the board started anew {seen} times while it was watched"]
    return [
        Row("log.sqlite", "integrity_check, clean, closed, nothing lost", answer, wrong),
        Row("whole windows of 0.2 s", f"{due:,}", f"{logged:,} with readings, those with a hole too", absent),
        Row("holes of 2 s and more: events", f"{holes}", f"{told}, once each, with their length", untold),
        Row("board started anew: events", f"{seen}", f"{anew}", starts_wrong),
    ]


def _alarms(run: Path, did: list[dict[str, Any]], ended: dict[str, Any]) -> list[Row]:
    """One alarm of silence while the motor ran, each time; one for all samples that did not come."""
    pulls = [line for line in did if line["what"] in ("pull", "unplug") and line["runs"]]
    silences = [(line["from_s"], line["at_s"]) for line in pulls]
    sure = [each for each in silences if each[1] - each[0] > SILENT_S + LOOKS_S]
    unsure = [each for each in silences if SILENT_S - 0.5 <= each[1] - each[0] <= SILENT_S + LOOKS_S]
    raised, folded = lives(sure)
    told = [each["kind"] for each in notices(run, "Go and look at the motor")]
    kept = [kind for kind in told if kind != "again"]  # of one that keeps coming, now and then
    was, over = kept.count("raised"), kept.count("ended")
    wrong = [] if raised <= was <= raised + len(unsure) else [f"raised {was} times"]
    wrong += [] if was - over in (0, 1) else [f"raised {was} times and ended {over} times"]
    if kept != (["raised", "ended"] * len(kept))[: len(kept)]:
        wrong.append(f"told in this order: {kept}")
    rows = [Row("silence while the motor ran", f"{raised} and {folded} folded", f"{was} raised, {over} ended", wrong)]
    count = len(events(run, "gap"))
    samples = [each["kind"] for each in notices(run, "Look at the cable")]
    (stands,) = [each for each in ended["alarms"]["alarms"] if each["act"] == "Look at the cable"] or [{"more": None}]
    bad = [] if samples == ["raised"] * bool(count) else [f"told: {samples}"]
    if count and stands["more"] != count - 1:
        bad.append(f"{count} events, and {stands['more']} are folded into the first")
    rows.append(
        Row("samples did not come: events, one alarm", f"{count} events", f"1 and {stands['more']} folded", bad)
    )
    return rows


def _night(told: list[dict[str, Any]], did: list[dict[str, Any]], ended: dict[str, Any]) -> Row:
    """The report of the night, by the service: a hole for each that was made, at its place, with its reason."""
    night, wall_s = ended["night"], told[0]["wall_s"]
    made = [line for line in did if line["what"] in REASONS]
    wrong = [] if night["answer"] else ["it has no answer"]
    left = [(each["from_utc_s"] - wall_s, each["to_utc_s"] - wall_s, each["reason"]) for each in night["gaps"]]
    for line in made:
        reason, from_s, at_s = REASONS[line["what"]], line["from_s"], line["at_s"]
        its = [
            (first, last, why)
            for first, last, why in left
            if why == reason and from_s - CLOCK_S <= first <= last <= at_s + CLOCK_S
            if last - first >= line["lasts_s"] - CLOCK_S
        ]
        if len(its) == 1:
            left.remove(its[0])
        else:
            wrong.append(f"{reason} from {from_s:.1f} to {at_s:.1f} s is told {len(its)} times")
    again = sum(line["kind"] == "interrupted" for line in told)
    if len(left) != again:
        wrong.append(f"holes are told that nobody made: {left}")
    return Row("report of the night: its holes", f"{len(made)}", f"{len(night['gaps'])}, at their places", wrong)


def _report(run: Path, its: Compared) -> Row:
    """The report opens, and says of samples what is true."""
    file = run.parent.parent.parent / "report.html"
    file.unlink(missing_ok=True)
    command = [sys.executable, "-m", "server", "report", str(run), "--html", str(file)]
    begun_s = time.monotonic()
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=False)
    took = f"made in {time.monotonic() - begun_s:.0f} s"
    if done.returncode:
        return Row("report of the run", "opens", took, [f"it could not be made: {done.stderr[-200:]}"])
    page = file.read_text(encoding="utf-8")
    due = [its.promised[SAMPLES], its.kept[SAMPLES], *_by_reason(its).values()]
    wrong = [f"it does not say {each}" for each in due if f"{each:,}".replace(",", "\u202f") not in page]
    return Row("report of the run", f"{len(due)} counts of samples", took, wrong)


def _memory(told: list[dict[str, Any]], hours: float) -> list[Row]:
    """Of the service that ran for longest, after what it needs to settle."""
    looks = [line for line in told if line["kind"] == "look"]
    pids = [line["pid"] for line in looks]
    its = [line for line in looks if line["pid"] == max(set(pids), key=pids.count)]
    after_s = its[0]["at_s"] + SETTLES_H * 3600.0
    settled = [line for line in its if line["at_s"] >= after_s]
    rows = []
    for key, unit, most in (("resident_mb", "MB", GROWS_MAX_MB), ("handles", "", HANDLES_MAX)):
        at_h, values = (np.array([line[name] for line in settled]) for name in ("at_s", key))
        slope, half = slope_of(at_h / 3600.0, values)
        span = f"{values.min():g} to {values.max():g} {unit}".strip() if values.size else "none"
        what = "memory of the service" if unit else "open handles of the service"
        wrong = []
        if hours >= JUDGED_H and not slope + half < most:
            wrong.append(f"it may grow by {most:g} {unit} an hour".replace("  ", " "))
        said = f"{slope:+.2f} ± {half:.2f} an hour" if hours >= JUDGED_H else "too short to tell"
        rows.append(Row(what, f"{len(settled)} looks", f"{span}; {said}", wrong))
    return rows


def slope_of(at: np.ndarray, values: np.ndarray) -> tuple[float, float]:
    """Of the line of least squares, and half its interval of 95 % by the scatter around it; too few: infinite."""
    if values.size < LOOKS_MIN:
        return math.nan, math.inf
    centred = at - at.mean()
    slope = float(centred @ values / (centred @ centred))
    scatter = values - values.mean() - slope * centred
    error = math.sqrt(float(scatter @ scatter) / (values.size - 2) / float(centred @ centred))
    return slope, _T_95 * error
