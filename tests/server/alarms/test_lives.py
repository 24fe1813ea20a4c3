"""Whatever comes, every alarm is told exactly once and ends at most once, and nothing is lost in a flood."""

from collections import Counter

from hypothesis import given, settings
from hypothesis import strategies as st

from server.alarms.kept import Kept, kept_from, kept_text
from server.alarms.life import Watching
from server.alarms.notice import Told
from server.config import AlarmSettings
from server.readings import Event
from tests.server.alarms.scenes import OVER, Bench, amps, doubtful_amps, kinds, no_amps, only, state

RULES = only(
    OVER,
    AlarmSettings("low", "caution", "Look", "current_rms_a", low=0.5, high=9.0, return_gap=1.0, hold_s=0.0),
    AlarmSettings("stalled"),
    AlarmSettings("dip", "caution", "Look at the supply", event="voltage_dip"),
    AlarmSettings("gone", "alarm", "Go there", no_samples_s=5.0),
)
NAMES = [rule.name for rule in RULES]
SEEN = st.tuples(
    st.just("see"),
    st.sampled_from([amps(0.1), amps(2.0), amps(4.0), amps(10.0), doubtful_amps(10.0), no_amps()]),
    st.sampled_from(["running", "stalled", "resting", "unknown"]),
    st.sampled_from([0.2, 0.6, 1.4, 30.0]),
)
DIPPED = st.tuples(st.just("dip"), st.integers(1, 3))
WAITED = st.tuples(st.just("wait"), st.sampled_from([1.0, 7.0, 700.0]), st.sampled_from([0.5, 100.0]))
ACTED = st.tuples(
    st.sampled_from(["acknowledge", "shelve", "unshelve"]), st.sampled_from([*NAMES, "nobody"]), st.just(60.0)
)
ANEW = st.tuples(st.just("restart"))


def live(bench: Bench, what: tuple) -> int:  # type: ignore[type-arg]
    """Do it; how many dips there were."""
    if what[0] == "see":
        bench.see(what[1], state(what[2]), seconds=what[3])
    elif what[0] == "dip":
        bench.happen(*[Event("voltage_dip", bench.board_s, "Voltage dipped")] * what[1])
        return int(what[1])
    elif what[0] == "wait":
        bench.wait(what[1], tick_s=what[2])
    elif what[0] == "restart":  # of the service: what was kept is all there is
        bench.state = kept_from(kept_text(Kept(bench.state)), RULES).state
    else:
        bench.act(what[0], what[1], for_s=what[2])
    return 0


@settings(max_examples=30, deadline=None)
@given(st.lists(st.one_of(SEEN, SEEN, DIPPED, WAITED, ACTED, ANEW), max_size=40))
def test_every_alarm_is_raised_once_acknowledged_and_ended_at_most_once_and_in_that_order(story: list) -> None:  # type: ignore[type-arg]
    bench = Bench(RULES)
    dips = sum(live(bench, what) for what in story)
    numbers = [notice.number for notice in bench.notices]
    assert numbers == list(range(1, len(numbers) + 1))
    standing = {its.life.id: its.life for its in bench.state.watching.values() if its.life is not None}
    lives = {notice.id for notice in bench.notices if notice.kind is Told.RAISED}
    for alarm in lives:
        told = Counter(kinds(bench.notices, alarm))
        assert kinds(bench.notices, alarm)[0] is Told.RAISED
        assert told[Told.RAISED] == 1
        assert told[Told.ENDED] <= 1
        assert told[Told.ACKNOWLEDGED] <= 1
        if alarm in standing:
            assert told[Told.ENDED] == (standing[alarm].ended_utc_s is not None)
            assert told[Told.ACKNOWLEDGED] == (standing[alarm].acknowledged is not None)
        else:  # gone: it ended, and was acknowledged or taken in by the one that came after it
            assert told[Told.ENDED] == 1
    assert set(standing) <= lives
    assert dips == told_dips(bench), "each dip is in an alarm, folded into one, or counted on the shelf"


def told_dips(bench: Bench) -> int:
    """All dips that were told of, or are kept to be told of yet."""
    ours = [notice for notice in bench.notices if notice.act == "Look at the supply"]
    ended = sum(1 + notice.more for notice in ours if notice.kind is Told.ENDED)
    on_shelves = sum(notice.more for notice in ours if notice.kind is Told.UNSHELVED)
    its = bench.state.watching["dip"] if bench.state.watching else Watching()
    standing = 0 if its.life is None else 1 + its.life.more
    return ended + on_shelves + standing + (0 if its.shelf is None else its.shelf.missed)
