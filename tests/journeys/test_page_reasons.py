"""Reasons of each kind, from wire bytes to the words on the page. All of them: `run.py prove reasons`."""

from pathlib import Path

import pytest
from playwright.sync_api import Browser

from tests.journeys.bench import service
from tests.journeys.page import opened
from tests.journeys.reasons_seen import look, record
from tests.server.bad_supply import level, sine, stream
from tests.server.hall.shafts import FORWARD_120
from tests.server.moments_of_reasons import moments
from tests.server.tiny_board import TinyBoard
from tests.server.worlds_of_reasons import THREE_PLATE, fan, three_lines
from tests.server.worlds_of_shafts import BRUSHLESS, THREE, halls, long

KINDS = {
    "the window has a gap": "absent",
    "at least this much": "doubtful",
    "there is no speed sensor": "doubtful",  # of the run state
    "does not come with": "absent",  # of the ring
    "the ratio means nothing": "absent",  # in a table of three lines
}


@pytest.mark.long
def test_a_reason_of_each_kind_is_read_beside_a_wavy_line_or_a_dash(browser: Browser, tmp_path: Path) -> None:
    wrong = [(100_000 + 30_000 * k, state) for k, state in enumerate((*FORWARD_120, 7))]
    worlds = (
        fan(sine(230.0), sine(1.0), cut=slice(300, 700)),
        fan(sine(230.0), sine(8.0)),
        TinyBoard(inputs=()).wire(((0.6, 230.0, 0.5, 0.0),)),
        long(BRUSHLESS, "pole_pairs = 2\n", level(36.0), level(1.0), halls(wrong), seconds=0.8),
        stream(THREE, *three_lines(0.0, 0.0), plate=THREE_PLATE),
    )
    chosen = moments(worlds, KINDS)
    data = tmp_path / "data"
    runs = record(data, chosen)
    with service(data) as running, opened(browser, running.url) as page:
        seen = [each for run, moment in zip(runs, chosen, strict=True) for each in look(page, running, run, moment)]
    assert {each.words: each.mark for each in seen if each.seen} == KINDS
