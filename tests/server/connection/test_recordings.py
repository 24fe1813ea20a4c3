"""The check on open recordings of a real three-phase motor, whose current transformers disagree by 3 to 6 %.

The recordings stand in the folder named by SLIPRING_DATA, or in ../shared/data beside the checkout.
"""

import numpy as np
import pytest

from server.connection import ConnectionCheck, Correctness
from server.motors import THREE_PHASE_INDUCTION
from server.quantities import window_analysis
from tests.server.quantities.test_recordings import DATA, INDEX, entries
from tests.server.quantities.windows import current, window

pytestmark = pytest.mark.skipif(not INDEX.is_file(), reason=f"the open recordings are not at {DATA}")


# ITSC (Cardenas-Cornejo et al. 2023, doi 10.1016/j.measurement.2023.113680): healthy windings and shorted ones.
@pytest.mark.parametrize("entry", entries("itsc"), ids=lambda entry: str(entry["file"]))
def test_transformers_that_disagree_and_shorted_turns_are_no_wrong_connection(entry: dict[str, str]) -> None:
    with np.load(DATA / entry["file"]) as kept:
        lines = np.ascontiguousarray(kept["current_a"].T)
    channels = [current(line) for line in ("L1", "L2", "L3")]
    check = ConnectionCheck(THREE_PHASE_INDUCTION, channels, ())
    turned = ConnectionCheck(THREE_PHASE_INDUCTION, channels, ())
    for k in range(0, 1000, 200):
        rows = lines[:, k : k + 200]
        check.take(window_analysis(window(channels, rows, 1000.0), THREE_PHASE_INDUCTION), (), [])
        backwards = [rows[0], -rows[1], rows[2]]
        turned.take(window_analysis(window(channels, backwards, 1000.0), THREE_PHASE_INDUCTION), (), [])
    summed = next(each for each in check.findings if each.key == "current_sum")
    assert summed.verdict is not Correctness.WRONG, summed
    if "hlt" in entry["file"]:
        assert summed.verdict is Correctness.RIGHT, summed
    found = next(each for each in turned.findings if each.key == "current_sum")
    assert found.verdict is Correctness.WRONG
    assert found.change == "Turn the current sensor of L2 round."
