"""What a log does not know of its run is kept as stretches, each from what was synced last to what came next."""

from math import inf
from pathlib import Path

import pytest

from server.runs.log.live import RETRY_S
from server.runs.log.missing import ALL, SPANS_MAX, begun, ended, lacking_words, spans_in, text_of
from server.runs.log.reading import LogReader
from server.runs.log.store import Store
from tests.server.runs.log.logs import CLOCK, Stepped, of_a_full_disk, taken_at

UTC_S = CLOCK.utc_s(0.0)


def test_stretches_join_where_they_meet_or_are_too_many_and_end_where_it_is_known_again() -> None:
    assert ended(begun([], 5.0), 7.0) == [(5.0, 7.0)]
    assert begun([(5.0, 7.0)], 7.0) == begun([(5.0, inf)], 9.0) == [(5.0, inf)]
    assert ended(begun([(5.0, 7.0)], 9.0), 8.0) == [(5.0, 7.0), (8.0, 9.0)]  # a clock that stepped back
    many = [(2.0 * k, 2.0 * k + 1.0) for k in range(SPANS_MAX)]
    assert begun(many, 1e6) == [*many[:-1], (many[-1][0], inf)]


@pytest.mark.parametrize("text", [None, "", "[]", "[[1, 0]]", "[[NaN, 3]]", "[1]", "{}", "[[1, 2, 3]]", "[" * 10_000])
def test_a_log_that_is_incomplete_and_does_not_say_where_knows_nothing(text: str | None) -> None:
    assert spans_in("so", text) == ALL
    assert spans_in("", text) == []
    assert spans_in("so", text_of([(1.0, 2.0), (4.0, inf)])) == [(1.0, 2.0), (4.0, inf)]


def missing(log: Stepped) -> list[tuple[float, float]]:
    with LogReader(log.run) as reader:
        return [(since - UTC_S, until - UTC_S) for since, until in reader.missing]


def killed(run: Path) -> Stepped:
    """The next start of a service that was killed: nothing of it was closed."""
    log = Stepped(run)
    log.opened(None, run)
    return log


def test_after_a_kill_what_lies_between_the_last_synced_instant_and_the_first_new_one_is_missing_and_no_more(
    tmp_path: Path,
) -> None:
    first = Stepped(tmp_path / "run")
    first.begin()
    first.give(taken_at(0.0), taken_at(10.0))
    first.written()
    assert missing(first) == []
    second = killed(first.run)
    second.give(taken_at(50.0))
    second.written()
    second.give(taken_at(90.0))
    second.written()
    third = killed(first.run)
    third.give(taken_at(130.0))
    third.written()
    third.close()
    assert missing(third) == [(10.0, 50.0), (90.0, 130.0)]


def test_what_a_full_disk_took_is_missing_too_and_of_a_log_of_before_all_up_to_where_it_goes_on(
    tmp_path: Path,
) -> None:
    log, free = of_a_full_disk(tmp_path / "run")
    free[0] = 10**12
    log.give(taken_at(2.0))
    log.written(RETRY_S)
    assert missing(log) == [(0.0, inf)]
    log.give(taken_at(3.0))
    log.close()
    assert missing(log) == [(0.0, 3.0)]
    store = Store(log.run / "log.sqlite")
    store._base.execute("DELETE FROM meta WHERE key = 'missing'")
    store.close()
    assert missing(log) == [(-UTC_S, inf)]
    again = killed(log.run)
    again.give(taken_at(5.0))
    again.written()
    again.close()
    assert missing(again) == [(-UTC_S, 5.0)]


def test_what_a_log_lacks_is_said_of_the_stretch_in_which_it_does_alone() -> None:
    why, spans = "the service ended before the log was closed", [(100.0, 160.0)]
    then = "what was recorded then is read in once the run has closed, where it was not thinned"
    said = f"not all is in the log yet ({why}): {then}"
    stretches = ((0.0, 101.0), (159.0, inf), (0.0, 100.0), (160.0, 170.0))
    assert [lacking_words(why, spans, *each) for each in stretches] == [said, said, "", ""]
    assert lacking_words("", [], 0.0, inf) == ""
    assert lacking_words("times that no clock tells", ALL, 0.0, 1.0) == "times that no clock tells"
