"""The small twin of `run.py prove hall`."""

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from tests.proofs import hall
from tests.server.wiring.drawn_cases import FAULTS, order_case


@pytest.mark.parametrize(
    ("table", "cases"), [(hall.orders, 48), (hall.alignment, 20), (hall.patterns, 20)], ids=["orders", "±", "pairs"]
)
def test_goals_of_the_proof_are_met_in_small(
    table: Callable[[Path, int, int], list[str]], cases: int, tmp_path: Path
) -> None:
    assert table(tmp_path / "kept.json", 7, cases) == []


def test_each_fault_is_told_in_small(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    kept = tmp_path / "kept.json"
    assert hall.fault_table(kept, 7, 2) == []
    first = capsys.readouterr().out
    assert all(name in first for name in FAULTS)
    hall.fault_table(kept, 7, 2)  # from what was kept
    assert capsys.readouterr().out == first


@pytest.mark.parametrize(("seed", "case", "edges"), [(2, 1358, 13), (3, 886, 13)])
def test_a_weak_motor_before_channels_of_unequal_gain_has_no_fault(seed: int, case: int, edges: int) -> None:
    """Two of 6000 of the proof, whose widths lay far apart by the gains alone."""
    rng = np.random.default_rng((seed, sum(b"order"), case))
    drawn = (int(rng.integers(2, 7)), int(rng.integers(7, 13)), *(int(each) for each in rng.integers(edges, 80, 2)))
    group, told = order_case(rng, drawn[case % 4])
    assert group == "12 edges or more"
    assert not told["fault of a healthy motor"]
