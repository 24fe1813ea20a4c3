"""The page of a kept check, of records that somebody has changed by hand."""

import re
from html.parser import HTMLParser

from server.procedures.sheet import POLICY, sheet

EVIL = "<script>alert(1)</script>"


class _Tags(HTMLParser):
    def __init__(self, page: str) -> None:
        super().__init__()
        self.tags: list[str] = []
        self.policies: list[str | None] = []
        self.feed(page)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        said = dict(attrs)
        if said.get("http-equiv") == "Content-Security-Policy":
            self.policies.append(said["content"])


def _record() -> dict[str, object]:
    sign = {"speaks": EVIL, "text": EVIL}
    test = {"text": EVIL, "caution": EVIL}
    verdict = {"question": EVIL, "answer": EVIL, "signs": [sign], "open": [EVIL], "next_test": test}
    cable = {"places": [EVIL] * 3, "names": [EVIL] * 3, "to": [0, 1, 2], "what": EVIL}
    hall = {"name": EVIL, "words": [EVIL], "edges": [[0.0, True], [180.0, False]], "high": 0, "right_deg": 0.0}
    volts = {pair: [0.0, 1.0] for pair in ("UW", "VU", "WV")}
    timing = {"turns": EVIL, "bin_deg": 180.0, "peak_v": 1.0, "volts": volts, "halls": [hall], "sentence": EVIL}
    step = {"known": True, "number": EVIL, "title": EVIL, "found": EVIL}
    return {
        **dict.fromkeys(("motor", "plate", "rig", "serial", "source", "run", "kept_utc_s"), EVIL),
        "far": {"word": EVIL, "below": EVIL},
        "names": {"halls": [EVIL] * 3, "phases": [EVIL] * 3},
        "verdicts": [verdict, verdict],
        "mends": [{"cables": [cable], "acts": [EVIL], "runs": EVIL}],
        "timing": {**timing, "found": [1], "right": [2]},
        "fits": [{"words": EVIL, "fraction": EVIL}],
        "check": {"steps": [step]},
        "cautions": [EVIL],
    }


def test_nothing_of_a_record_becomes_markup() -> None:
    page = sheet(_record())
    tags = _Tags(page).tags
    assert "script" not in tags
    assert tags.count("svg") == 2  # both drawings stand, so that their words were written too
    assert page.count("&lt;script&gt;") > 30


def test_the_page_forbids_by_itself_that_anything_runs_or_is_loaded() -> None:
    assert _Tags(sheet({})).policies == [POLICY]
    assert POLICY.split("; ") == ["default-src 'none'", "style-src 'unsafe-inline'"]


def test_steps_are_counted_from_one_whatever_number_an_earlier_page_was_kept_with() -> None:
    steps = [{"known": known, "number": 0, "title": title} for title, known in (("Names", True), ("Levels", False))]
    page = sheet({"check": {"steps": [*steps, {"known": True, "number": 2, "title": "Order"}]}})
    assert re.findall(r'scope="row">(.*?)<', page) == ["1 Names", "3 Order"]


def test_on_a_phone_it_is_one_column() -> None:
    _, _, narrow = sheet({}).partition("@media screen and (max-width:600px){")
    assert "dl{grid-template-columns:1fr}.beside{display:block}.rest{columns:1}" in narrow
