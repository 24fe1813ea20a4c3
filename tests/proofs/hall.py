"""Verdicts on wiring of motors that are turned by hand: orders, faults, alignment, pole pairs, each drawn anew.

Two thousand motors of 2 to 15 pole pairs, sine to trapezoid, places 0.8, widths and timing 1, magnets 0.6 degrees rms,
strokes of 60 to 150 r/min, voltages in steps of 20 mV by channels whose gains differ by 2 %, any of 288 wirings.
"""

import json
from collections import Counter
from collections.abc import Callable
from pathlib import Path

import numpy as np

from server.quantities.uncertainty import NORMAL_95
from tests.server.wiring.drawn_cases import FAULTS, alignment_case, fault_case, order_case, pattern_case
from tests.server.wiring.software_cases import DUE, judged

ORDER_CASES, FAULT_CASES, ALIGNMENT_CASES, PATTERN_CASES, BLOCK = 2000, 60, 300, 300, 50
PLAIN_RIGHT, PROBABLE_RIGHT, FAULTS_TOLD, SURE_RIGHT = 0.99, 0.90, 0.97, 0.999
INSIDE, WIDEST = 0.93, 1.5  # of intervals for 95 %, at least; times the width that the errors themselves ask for


def main(state: Path, seed: int) -> int:
    """Print the tables; 0 when every goal is met. Blocks of an earlier, interrupted run are not done again."""
    kept = state / "hall.json"
    missed = orders(kept, seed, ORDER_CASES) + fault_table(kept, seed, FAULT_CASES)
    missed += software(kept, seed, FAULT_CASES)
    missed += alignment(kept, seed, ALIGNMENT_CASES) + patterns(kept, seed, PATTERN_CASES)
    print(f"\n{len(missed)} goals missed" + "".join(f"\n  {each}" for each in missed))
    return 1 if missed else 0


def _blocks(
    kept: Path, name: str, seed: int, cases: int, one: Callable[[np.random.Generator, int], str]
) -> Counter[str]:
    """What `one` says of each case, counted; by blocks that are kept."""
    done: dict[str, dict[str, int]] = json.loads(kept.read_text()) if kept.exists() else {}
    total = Counter[str]()
    for first in range(0, cases, BLOCK):
        key = f"{name} {first}"
        if key not in done:
            block = range(first, min(first + BLOCK, cases))
            number = sum(name.encode())
            done[key] = dict(Counter(one(np.random.default_rng((seed, number, case)), case) for case in block))
            kept.write_text(json.dumps(done))
        total.update(done[key])
    return total


def orders(kept: Path, seed: int, cases: int) -> list[str]:
    def one(rng: np.random.Generator, case: int) -> str:
        edges = (int(rng.integers(2, 7)), int(rng.integers(7, 13)), *(int(each) for each in rng.integers(13, 80, 2)))
        group, told = order_case(rng, edges[case % 4])
        return "|".join((group, *(key for key, count in sorted(told.items()) if count and key != "cases")))

    counts = _blocks(kept, "order", seed, cases, one)
    print(
        f"\n{'edges with voltage':20} {'cases':>6} {'plain':>6} {'probable':>9} {'open':>6} {'right':>6} {'faults':>7}"
    )
    missed = []
    for group in ("12 edges or more", "6 to 11 edges", "below 6 edges"):
        rows = {tuple(key.split("|")[1:]): count for key, count in counts.items() if key.startswith(group)}
        plain, probable, is_open, right, faults = (
            sum(count for told, count in rows.items() if what in told)
            for what in ("plain", "probable", "open", "right", "fault of a healthy motor")
        )
        of = sum(rows.values())
        print(f"{group:20} {of:6} {plain:6} {probable:9} {is_open:6} {right:6} {faults:7}")
        goal = {"12 edges or more": PLAIN_RIGHT, "6 to 11 edges": PROBABLE_RIGHT}.get(group)
        if goal is not None and right < goal * of:
            missed.append(f"{group}: {right} of {of} right, {goal:.0%} is the goal")
        if group != "12 edges or more" and plain:
            missed.append(f"{group}: {plain} said plainly")
        if group == "below 6 edges" and is_open != of:
            missed.append(f"{group}: {of - is_open} told")
        if faults:
            missed.append(f"{group}: {faults} healthy motors with a fault")
    return missed


def fault_table(kept: Path, seed: int, cases: int) -> list[str]:
    print(f"\n{'fault':24} {'told':>5} {'of':>4}  else")
    missed = []
    for name in FAULTS:

        def one(rng: np.random.Generator, case: int, name: str = name) -> str:
            return fault_case(name, rng)

        counts = _blocks(kept, name, seed, cases, one)
        of = sum(count for key, count in counts.items() if key != "nothing")
        told = sum(count for key, count in counts.items() if key.startswith("told"))
        rest = "; ".join(f"{count} {key}" for key, count in counts.items() if key not in ("told", "nothing"))
        print(f"{name:24} {told:5} {of:4}  {rest}")
        if told < FAULTS_TOLD * of:
            missed.append(f"{name}: told in {told} of {of}")
    return missed


def software(kept: Path, seed: int, cases: int) -> list[str]:
    """The software board's own draws, made by others than the verdicts and the cases above."""
    print(f"\n{'of the software board':24} {'told':>5} {'of':>4}  said")
    missed = []
    for fault in ("", *DUE):

        def one(rng: np.random.Generator, case: int, fault: str = fault) -> str:
            judgement, shows = judged(fault, 1000 * seed + case)
            if not shows:
                return "nothing"
            said = {each.key for each in judgement.verdicts if each.key.startswith(("hall_", "lead_", "edges_"))}
            return " ".join(sorted(said - {"hall_lines_good"})) or "none"

        counts = _blocks(kept, f"software {fault}", seed, cases, one)
        due = DUE.get(fault, ("none",))
        told = sum(count for said, count in counts.items() if set(said.split()) & set(due))
        of = sum(counts.values()) - counts["nothing"]
        said = "; ".join(f"{count} {what}" for what, count in counts.items() if what != "nothing")
        print(f"{fault or 'healthy':24} {told:5} {of:4}  {said}")
        if told < FAULTS_TOLD * of:
            missed.append(f"{fault or 'healthy'} of the software board: told in {told} of {of}")
    return missed


def alignment(kept: Path, seed: int, cases: int) -> list[str]:
    def one(rng: np.random.Generator, case: int) -> str:
        return " ".join(f"{error:.4f}/{half:.4f}" for error, half in alignment_case(rng)) or "open"

    pairs = [
        [tuple(map(float, pair.split("/"))) for pair in key.split()]
        for key, count in _blocks(kept, "alignment", seed, cases, one).items()
        for _ in range(count)
        if key != "open"
    ]
    missed = []
    for what, figures in zip(("place", "lag"), np.array(pairs).transpose(1, 2, 0), strict=True):
        error, half = figures
        inside, rms = float(np.mean(np.abs(error) <= half)), float(np.sqrt(np.mean(error**2)))
        wide = 1.0 / (NORMAL_95 * float(np.sqrt(np.mean((error / half) ** 2))))
        print(
            f"\nalignment, {what}: {error.size} figures, {rms:.2f} degrees rms, {np.abs(error).max():.2f} at most;"
            f" {inside:.1%} within ±, {wide:.2f} times as wide as the errors ask for, half below ±{np.median(half):.2f}"
        )
        if inside < INSIDE:
            missed.append(f"alignment, {what}: {inside:.1%} within their uncertainty for 95 %")
        if wide > WIDEST:
            missed.append(f"alignment, {what}: intervals {wide:.2f} times as wide as the errors ask for")
    return missed


def patterns(kept: Path, seed: int, cases: int) -> list[str]:
    def one(rng: np.random.Generator, case: int) -> str:
        sure, right = pattern_case(rng)
        return f"{'sure' if sure else 'not sure'} {'right' if right else 'wrong'}"

    counts = _blocks(kept, "pattern", seed, cases, one)
    print(f"\npole pairs of a shaft that runs down: {', '.join(f'{n} {what}' for what, n in sorted(counts.items()))}")
    sure = counts["sure right"] + counts["sure wrong"]
    return (
        [] if counts["sure right"] >= SURE_RIGHT * sure > 0 else [f"pole pairs: {counts['sure wrong']} sure and wrong"]
    )
