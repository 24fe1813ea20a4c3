"""The small twin of `run.py prove hall`."""

from collections.abc import Callable
from pathlib import Path

import pytest

from tests.proofs import hall
from tests.server.wiring.drawn_cases import FAULTS


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
