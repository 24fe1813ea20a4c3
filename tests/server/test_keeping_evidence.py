"""What open runs have to say to a test plan is kept beside them."""

import asyncio
from pathlib import Path
from types import SimpleNamespace
from typing import Any, cast

import pytest

from server.keeping_evidence import KeepingEvidence
from server.rig import Rig
from server.runs.beside import SO_FAR, SoFar, read_so_far
from server.test_plan.evidence import Evidence


def recorded(run: str, evidence: dict[str, Any]) -> Rig:
    """A rig that records."""
    recording = SimpleNamespace(run=run, evidence_of=run, evidence=lambda: evidence, silent_s=1.0)
    return cast(Rig, SimpleNamespace(recording=recording, view=SimpleNamespace(recorded=lambda: missing)))


missing = SimpleNamespace(gaps_s=0.5)


def test_a_run_that_cannot_be_kept_is_told_and_keeps_no_other_from_it(tmp_path: Path) -> None:
    said = {**Evidence().record(None), "from_utc_s": 1.0, "to_utc_s": 2.0}
    rigs = [recorded("a", said), recorded("b", {"to_utc_s": float("nan")}), recorded("c", said), recorded("gone", said)]
    for name in "abc":
        (tmp_path / name).mkdir()
    (tmp_path / "a" / SO_FAR).mkdir()
    with pytest.raises(OSError, match="of a, Is a directory"):
        asyncio.run(KeepingEvidence(tmp_path, lambda: rigs, {}).keep())
    assert read_so_far(tmp_path / "c") == SoFar(said, 1.5)
    assert sorted(each.name for each in tmp_path.glob("*/*")) == [SO_FAR] * 2, "nothing half written is left"
