"""What is shown of a reading whose confidence changes: worse at once, better after a while."""

import pytest

from server.live.latest import HOLD_S, Latest
from server.readings import Confidence, Doubt, Reading, Uncertainty, absent, doubtful
from tests.server.live.blocks import Sync
from tests.server.live.views import instant

GOOD = Reading("voltage_rms_v", 230.0, uncertainty=Uncertainty(229.0, 231.0, 1.96, (("noise", 0.5),)))


def shown(*steps: tuple[float, Reading]) -> Reading:
    latest = Latest()
    for board_s, reading in steps:
        latest.take(instant(board_s, reading), Sync())
    found = latest.get(GOOD.id)
    assert found is not None
    return found


@pytest.mark.parametrize("bad", [doubtful(GOOD, "2 of 10 cycles lost on the wire"), absent(GOOD.key, "direct voltage")])
def test_a_reading_that_was_no_good_one_stays_doubtful_for_a_second_with_its_new_value(bad: Reading) -> None:
    soon = shown((1.0, bad), (1.2, GOOD), (2.0, GOOD))
    assert (soon.confidence, soon.value) == (Confidence.DOUBTFUL, 230.0)
    assert soon.reason == f"until a moment ago: {bad.reason}"
    assert soon.uncertainty is None
    assert shown((1.0, bad), (1.2, GOOD), (1.0 + HOLD_S + 0.01, GOOD)) == GOOD


def test_a_reading_becomes_doubtful_or_absent_at_once_with_the_newest_reason() -> None:
    first, second = doubtful(GOOD, "clipped at ±400 V"), absent(GOOD.key, "no sample of this window came")
    assert shown((1.0, GOOD), (1.2, first)) == first
    assert shown((1.0, first), (1.2, GOOD), (1.4, second)) == second


def test_a_sample_in_ten_seconds_is_not_held_and_words_are_not() -> None:
    assert shown((1.0, absent(GOOD.key, "no sample")), (11.0, GOOD)) == GOOD
    latest = Latest()
    for board_s, reading in ((1.0, absent("run_state", "too early")), (1.2, Reading("run_state", "running"))):
        latest.take(instant(board_s, reading), Sync())
    assert latest.word("run_state") == "running"
    state = latest.get("run_state")
    assert state is not None
    assert state.confidence is Confidence.GOOD


def test_a_shaft_that_stands_is_told_at_once_after_a_bound_on_its_speed() -> None:
    bound = doubtful(Reading("speed_rpm", 4.0), "no edge for 12 s: at most this", Doubt.ONLY_A_BOUND)
    latest = Latest()
    for board_s, reading in ((1.0, bound), (1.2, Reading("speed_rpm", 0.0))):
        latest.take(instant(board_s, reading), Sync())
    assert latest.get("speed_rpm") == Reading("speed_rpm", 0.0)
