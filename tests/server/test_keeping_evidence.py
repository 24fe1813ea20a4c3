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


def recorded(run: str, evidence: dict[str, Any], is_open: bool = True) -> Rig:
    """A rig that records, or that did."""
    name = run if is_open else ""
    recording = SimpleNamespace(run=name, evidence_of=run, evidence=lambda: dict(evidence), silent_s=1.0)
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


def test_what_a_closed_run_had_to_say_is_written_once(tmp_path: Path) -> None:
    said = {**Evidence().record(None), "from_utc_s": 1.0, "to_utc_s": 2.0}
    rigs = [recorded("closed", said, is_open=False), recorded("open", said)]
    for name in ("closed", "open"):
        (tmp_path / name).mkdir()
    keeping = KeepingEvidence(tmp_path, lambda: rigs, {})
    asyncio.run(keeping.keep())
    first = {name: (tmp_path / name / SO_FAR).stat().st_ino for name in ("closed", "open")}
    asyncio.run(keeping.keep())
    again = {name: (tmp_path / name / SO_FAR).stat().st_ino for name in ("closed", "open")}
    assert again["closed"] == first["closed"]
    assert again["open"] != first["open"], "each is a file of its own that takes the place of the one before"
    said["to_utc_s"] = 3.0
    asyncio.run(keeping.keep())
    assert read_so_far(tmp_path / "closed") == SoFar(said, 1.5)
