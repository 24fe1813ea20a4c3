"""The small twin of the proof of a night that is logged."""

from pathlib import Path

import numpy as np

from tests.proofs.night_log import IDS, logged, lost

SOME = IDS[6:10]


def test_of_some_minutes_nothing_is_lost_and_memory_stays_flat(tmp_path: Path) -> None:
    values, memory_mb = logged(tmp_path / "run", seed=3, hours=0.1)
    assert lost(tmp_path / "run", values, SOME) == []
    assert memory_mb[-1] - memory_mb[2] < 5.0  # 1500 windows, held as readings, would be some 20 MB
    values[np.argmax(values[:, 9]), 9] += 1.0
    assert lost(tmp_path / "run", values, SOME)  # what is not as it was is found
