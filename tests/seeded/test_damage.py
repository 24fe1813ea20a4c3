"""Seeds of damage on the wire: exactly the readings that it touches lose their confidence."""

from collections import Counter
from functools import lru_cache
from itertools import pairwise
from random import Random

import pytest

from firmware_protocol import Decoder, Received
from tests.seeded.damage import RATES, Ran, accounted, check, damaged, findings, promised, ran
from tests.server.tiny_board import HALLS, TinyBoard

# `prove damage` tries a thousand
SEEDS = [each if each < 16 else pytest.param(each, marks=pytest.mark.long) for each in range(40)]
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


@pytest.mark.parametrize("seed", [*range(6), *(pytest.param(each, marks=pytest.mark.long) for each in range(6, 12))])
def test_a_board_that_starts_anew_amid_other_faults_is_read_on_and_every_start_is_told(seed: int) -> None:
    whole, clean = undamaged("halls" if seed % 2 else "pulses")
    wire, _ = damaged(whole, 3 * seed, {"reset": 0.01, "flipped": 0.005, "late": 0.002})
    hurt = ran(wire, Random(seed))
    starts = [each.boot for each in Decoder().feed(wire) if isinstance(each, Received)]
    changes = sum(one != other for one, other in pairwise(starts))
    assert changes >= 1
    assert [each.kind for each in hurt.damage].count("reset") == changes
    assert ran(wire) == hurt
    assert len(hurt.instants) >= len(clean.instants) // 3


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
