"""A moment of a world as a run that the service plays to the page: are its words seen, and a mark beside them?"""

import re
from collections.abc import Iterable
from pathlib import Path
from typing import Any, NamedTuple

from playwright.sync_api import Page, expect

from server.config import RigSettings
from server.runs.library import Library
from server.runs.recording import Recording
from tests.journeys.bench import Service
from tests.server.moments_of_reasons import Moment, Told

BEGUN_UTC_S = 1_795_615_320.0
APART_S = 60.0
DASH = "–"
# Every reading of the list and what stands beside it: its button's name, value, mark, and the note of its figure.
_ROWS = """() => [...document.querySelectorAll('.readings .press')].map((row) => {
    const figure = row.querySelector('sup')?.innerText;
    const notes = [...document.querySelectorAll('.readings .notes li')];
    const note = notes.find((li) => figure && li.querySelector('sup').innerText === figure);
    const value = row.querySelector('.value, b');
    const [name, said] = [row.querySelector('.opens').ariaLabel, value.querySelector('span').innerText];
    return {name, value: said, doubt: !!value.querySelector('.doubt'), note: note?.innerText ?? ''};
})"""


class Seen(NamedTuple):
    """Whether the words of a phrase were seen, as what, of which reading."""

    words: str
    mark: str  # "absent", "doubtful", or "value" where they are the value of a good reading
    reading: str
    seen: bool


def record(data: Path, moments: Iterable[Moment]) -> list[str]:
    """Each of them as a closed run in a service's data folder, written as a rig does it; their names."""
    library = Library(data / "runs")
    library.folder.mkdir(parents=True, exist_ok=True)
    names = []
    for k, moment in enumerate(moments):
        opened_utc_s, rig = BEGUN_UTC_S + APART_S * k, f"world-{moment.world}"
        recording = Recording(RigSettings(rig), library)
        recording.connected(opened_utc_s)
        for at_s, arrived in moment.chunks:
            recording.chunk(arrived, opened_utc_s + at_s)
        end_utc_s = opened_utc_s + moment.chunks[-1][0]
        recording.end_run(end_utc_s)
        recording.stop(end_utc_s)
        names += [run.name for run in library.runs() if run.opened_utc_s == opened_utc_s]
    return names


def look(page: Page, running: Service, run: str, moment: Moment) -> list[Seen]:
    """Play the run to its end and look for what is told there."""
    end_utc_s = running.get(f"/api/runs/{run}")["closed_utc_s"]
    rig = running.send("POST", "/api/plays", {"run": run, "utc_s": end_utc_s})["rig"]
    page.goto(f"{running.url}/?rig={rig}")
    expect(page.locator(".head .wire")).to_contain_text("played to its end")
    page.locator(".readings .as-table").first.click()
    labels = {each["key"]: each["label"] for each in running.get("/api/quantities")}
    return [_seen(page, words, told, labels) for words, told in moment.told.items()]


def _seen(page: Page, words: str, told: tuple[Told, ...], labels: dict[str, str]) -> Seen:
    """In the list of readings, with the mark that belongs to it, and in the reading that is opened there."""
    for each in told:
        label = labels.get(each.id.split(".", maxsplit=1)[0], "")
        rows = [row for row in page.evaluate(_ROWS) if label and re.match(rf"{re.escape(label)}[,:]", row["name"])]
        if any(_marked(row, each) and _opened(page, row["name"], each) for row in rows):
            return Seen(words, _mark(each), each.id, seen=True)
    return Seen(words, _mark(told[0]), told[0].id, seen=False)


def _mark(told: Told) -> str:
    return "value" if told.words not in told.reason else told.confidence


def _marked(row: dict[str, Any], told: Told) -> bool:
    """The mark beside the name, and behind its figure the words."""
    mark = _mark(told)
    if mark == "value":
        return told.words in _plain(row["value"])
    note = f"{mark}: {_plain(told.reason)}"
    return note in _plain(row["note"]) and (row["value"] == DASH if mark == "absent" else row["doubt"])


def _opened(page: Page, name: str, told: Told) -> bool:
    """The reading opened in its place says it too."""
    button = page.locator(".readings").get_by_role("button", name=name, exact=True)
    button.click()
    opened = page.locator(".readings .opened")
    said = _plain(opened.locator("p.what ~ p").all_inner_texts().__str__())
    button.click()
    return told.words in said if _mark(told) == "value" else _plain(told.reason)[1:] in said


def _plain(text: str) -> str:
    """As it is compared: any space is a space, a real minus a hyphen."""
    return re.sub(r"\s+", " ", text.replace("\\xa0", " ").replace("\\u2009", " ").replace("\\u2212", "-")).replace(
        "−", "-"
    )
