"""A rig whose board lives slower or faster: its ages are its own."""

import pytest

from server.live.own_time import OwnTime
from server.pipeline import Output
from server.readings import Reading
from tests.server.live.blocks import Sync
from tests.server.live.views import ZERO, instant, seen, ventilator


@pytest.mark.parametrize(("pace", "stale_after_s"), [(0.1, 10.0), (1.0, 1.0), (10.0, 1.0)])
def test_a_slow_board_is_given_time_and_a_fast_one_is_not_hurried(pace: float, stale_after_s: float) -> None:
    """A board's own second is the limit; where it passes sooner than ours, it is ours."""
    view = ventilator(1.0)
    view.time = OwnTime(pace, since_utc_s=ZERO + 1.0)
    view.take(Output(instants=(instant(1.0, Reading("current_rms_a", 0.55)),)), Sync())
    for passed_s, state, aged in ((0.95, "live", ""), (1.05, "stale", "stale")):
        picture = seen(view, 1.0 + passed_s * stale_after_s)
        assert picture["connection"]["state"] == state
        assert picture["readings"]["current_rms_a"]["aged"] == aged
        assert picture["now_utc_s"] - picture["sample_utc_s"] == pytest.approx(
            passed_s * stale_after_s * pace, abs=1e-3
        )
