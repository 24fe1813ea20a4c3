"""A hundred seeds of damage on the wire: exactly the readings that it touches lose their confidence."""

from collections import Counter
from functools import lru_cache
from random import Random

import pytest

from tests.seeded.damage import RATES, Ran, accounted, check, damaged, findings, promised, ran
from tests.server.tiny_board import HALLS, TinyBoard

SEEDS = range(100)
BOARDS = {"pulses": TinyBoard(), "halls": TinyBoard(inputs=HALLS)}


@lru_cache
def undamaged(board: str) -> tuple[bytes, Ran]:
    wire = BOARDS[board].wire()
    return wire, ran(wire)


@pytest.mark.parametrize("seed", SEEDS)
def test_good_readings_are_those_of_the_undamaged_run_and_only_touched_ones_are_not_good(seed: int) -> None:
    whole, clean = undamaged("halls" if seed % 2 else "pulses")
    wire, faults = damaged(whole, seed)
    hurt = ran(wire, Random(seed))
    seen = check(clean, hurt, whole, wire)
    assert seen["kept"] > 100
    assert accounted(hurt, wire) == promised(wire)
    assert hurt.damage or not any(each.spoiled for each in faults.touched)


def test_the_seeds_bring_every_kind_of_fault_and_of_finding() -> None:
    struck: Counter[str] = Counter()
    found: Counter[str] = Counter()
    for seed in range(0, 30, 3):
        wire, faults = damaged(undamaged("pulses")[0], seed)
        struck.update(each.kind for each in faults.touched)
        found += findings(wire)
    assert set(struck) == set(RATES)
    assert {"lost", "checksum", "stuffing", "doubled"} <= set(found)


def test_a_reading_that_only_seems_good_is_caught_by_the_check() -> None:
    whole, _ = undamaged("pulses")
    wire, _ = damaged(whole, 1)
    with pytest.raises(AssertionError, match="is called good"):
        check(ran(TinyBoard(seed=5).wire()), ran(wire), whole, wire)
