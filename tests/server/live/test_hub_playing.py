"""Runs that are played stand beside the rigs: seen by those who ask for them, and never in the place of a rig."""

from server.live.records import Playing
from tests.server.live.test_hub import Bench, Page

RUN = "20261125-1402-heron-1"


def played(*rigs: str) -> Bench:
    """A bench with these rigs and one run that is played, which stands first."""
    bench = Bench(RUN, *rigs)
    bench.views[RUN].playing = Playing(RUN, "heron-1", 1e9, 1e9 + 60.0)
    return bench


def test_a_run_that_is_played_is_shown_to_those_only_who_ask_for_it() -> None:
    bench = played("heron-1")
    asked, unasked = Page(bench.hub, RUN), Page(bench.hub, "")
    bench.tick()
    picture = asked.next()
    assert (picture["rig"], picture["playing"]["state"]) == (RUN, "playing")
    assert [rig["name"] for rig in picture["rigs"]] == ["heron-1", RUN]
    assert unasked.next()["rig"] == "heron-1"


def test_without_any_rig_a_run_is_played_all_the_same_and_the_others_see_none() -> None:
    bench = played()
    asked, unasked = Page(bench.hub, RUN), Page(bench.hub, "")
    bench.tick()
    assert asked.next()["rig"] == RUN
    picture = unasked.next()
    assert (picture["rig"], picture["connection"]["state"], picture["playing"]) == ("", "no_board", None)


def test_when_it_is_played_no_more_its_viewers_are_told() -> None:
    bench = played("heron-1")
    page = Page(bench.hub, RUN)
    bench.tick()
    page.draw(bench.now_s)
    del bench.views[RUN]
    bench.tick()
    assert page.next()["connection"]["state"] == "no_rig"
