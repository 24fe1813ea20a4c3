"""The small twin of the proof of drifts."""

from pathlib import Path

import pytest

from tests.proofs.drift import main


def test_the_proof_counts_few_nights_and_goes_on_where_it_was_stopped(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(tmp_path, 1, 1) == 0
    before = capsys.readouterr().out
    assert "false alarms a night 0.0000, of one reading alone 0.0000; wear found in 1.000" in before
    assert main(tmp_path, 1, 1) == 0
    assert capsys.readouterr().out == before
