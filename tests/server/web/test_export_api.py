"""Exports over HTTP: their size beforehand, made by a child beside the service, fetched under their name, removed."""

import asyncio
import time
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

import httpx2
import numpy as np
import pytest

from server import exporting
from server.recorded import Recorded
from server.runs.library import Library
from server.runs.parcel import receive
from server.runs.replay import recorded
from tests.server.export.runs import OPENED_UTC_S, run_of
from tests.server.notify.notices import until
from tests.server.web.bench import Service
from tests.server.web.raw import TOKEN

AUTHORIZED = {"Authorization": f"Bearer {TOKEN}", "Slipring-Request": "1"}
MADE_S = 20.0


class Exports:
    """The API as a script asks it, and the one run that is there."""

    def __init__(self, service: Service, run: Path, made_by: exporting.Exporting) -> None:
        self.made_by = made_by
        self.service, self.run, self.folder = service, run.name, run.parent.parent / "exports"

    def ask(self, method: str, path: str, body: object = None) -> tuple[int, Any]:
        with self.service.client as client:
            answer = client.request(
                method, f"/api{path}", json=None if method == "GET" else body or {}, headers=AUTHORIZED
            )
        return answer.status_code, answer.json()

    def file(self, number: int) -> Any:
        with self.service.client as client:
            return client.get(f"/api/exports/{number}/file", headers=AUTHORIZED)

    def until(self, number: int, *states: str) -> dict[str, Any]:
        end_s = time.monotonic() + MADE_S
        while time.monotonic() < end_s:
            told = next(each for each in self.ask("GET", "/exports")[1] if each["number"] == number)
            if told["state"] in states:
                return dict(told)
            time.sleep(0.05)
        raise AssertionError(f"{told} after {MADE_S} s")


@pytest.fixture
def exports(service: Service, tmp_path: Path) -> Iterator[Exports]:
    run = run_of(tmp_path / "runs")
    library = Library(tmp_path / "runs")
    recorded = service.rigs.recorded = Recorded(library, time.time)
    (tmp_path / "exports").mkdir()
    for name in ("7.csv.part", "mine.txt"):
        (tmp_path / "exports" / name).write_text("there before")

    async def start() -> None:
        recorded._tasks = [asyncio.create_task(recorded.exporting.run())]

    asyncio.run_coroutine_threadsafe(start(), service.server_loop).result(5)
    yield Exports(service, run, recorded.exporting)
    asyncio.run_coroutine_threadsafe(recorded.stop(), service.server_loop).result(5)
    service.rigs.recorded = None
    library.close()


def test_a_run_is_exported_fetched_under_its_name_and_removed_again(exports: Exports, tmp_path: Path) -> None:
    size = exports.ask("GET", f"/runs/{exports.run}/export-size?as=npz&what=waveforms")
    assert (size[0], size[1]["fits"]) == (200, True)
    span = {"from_utc_s": OPENED_UTC_S + 1.0, "to_utc_s": OPENED_UTC_S + 3.0}
    status, begun = exports.ask("POST", "/exports", {"run": exports.run, "as": "npz", "what": "waveforms", **span})
    assert (status, begun["state"], begun["file"]) == (201, "waiting", None)
    told = exports.until(begun["number"], "made", "failed")
    assert (told["state"], told["trouble"], told["share"]) == ("made", "", 1.0)
    fetched = exports.file(begun["number"])
    assert fetched.headers["content-disposition"] == f'attachment; filename="{exports.run}-waveforms.npz"'
    assert (fetched.headers["cache-control"], len(fetched.content)) == ("no-store", told["bytes"])
    (tmp_path / "got.npz").write_bytes(fetched.content)
    with np.load(tmp_path / "got.npz") as file:
        assert file["values"].shape[0] in range(1985, 2016)  # ends are as exact as the clock
    assert not (exports.folder / "7.csv.part").exists()  # of a service that was killed
    assert exports.ask("DELETE", f"/exports/{begun['number']}") == (200, {"number": begun["number"]})
    assert exports.ask("GET", "/exports") == (200, [])
    assert exports.file(begun["number"]).status_code == 404
    assert [path.name for path in exports.folder.iterdir()] == ["mine.txt"]


def test_a_run_is_fetched_as_one_file_that_another_pc_takes_in(exports: Exports, tmp_path: Path) -> None:
    status, size = exports.ask("GET", f"/runs/{exports.run}/file-size")
    assert (status, size["fits"]) == (200, True)
    status, begun = exports.ask("POST", f"/runs/{exports.run}/file")
    assert (status, begun["what"]) == (201, "run")
    told = exports.until(begun["number"], "made", "failed")
    assert (told["state"], told["trouble"], told["source"]) == ("made", "", "")
    assert told["bytes"] == pytest.approx(size["bytes"], rel=0.01)
    fetched = exports.file(begun["number"])
    assert fetched.headers["content-disposition"] == f'attachment; filename="{exports.run}.slipring"'
    (tmp_path / "got.slipring").write_bytes(fetched.content)
    library = Library(tmp_path / "there")  # of a service that runs
    assert library.runs() == []
    there = receive(tmp_path / "got.slipring", tmp_path / "there")
    assert [each.name for each in library.runs()] == [exports.run]
    receive(tmp_path / "got.slipring", tmp_path / "there", copy=True)
    assert [each.name for each in library.runs()] == [f"{exports.run}-2", exports.run]
    library.close()
    assert list(recorded(there)) == list(recorded(tmp_path / "runs" / exports.run))
    assert exports.ask("GET", "/runs/none/file-size")[0] == exports.ask("POST", "/runs/none/file")[0] == 404


def test_what_cannot_be_exported_is_said_and_what_is_too_much_refused(
    exports: Exports, monkeypatch: pytest.MonkeyPatch
) -> None:
    for body, code, words in (
        ({"run": "none", "as": "csv"}, 404, 'There is no run "none"'),
        ({"run": "../runs", "as": "csv"}, 404, "There is no run"),
        ({"run": exports.run, "as": "ods"}, 409, 'There is no format "ods"; there are csv, parquet'),
        ({"run": exports.run, "as": "flac"}, 409, "holds waveforms only"),
        ({"run": exports.run, "as": "csv", "more": 1}, 422, "more"),
    ):
        status, answer = exports.ask("POST", "/exports", body)
        assert (status, words in answer["detail"]) == (code, True), answer
    status, answer = exports.ask("GET", f"/runs/{exports.run}/export-size?as=csv&from_utc_s=1e10")
    assert (status, "nothing in this span" in answer["detail"]) == (409, True)
    monkeypatch.setattr(exporting, "KEPT_MAX", 1)
    status, begun = exports.ask("POST", "/exports", {"run": exports.run, "as": "csv", "from_utc_s": 1e10})
    assert status == 201
    status, answer = exports.ask("POST", "/exports", {"run": exports.run, "as": "csv"})
    assert (status, answer["detail"]) == (409, "1 exports are kept already; remove one first.")
    told = exports.until(begun["number"], "made", "failed")
    assert (told["state"], "nothing in this span" in told["trouble"]) == ("failed", True)
    assert exports.ask("DELETE", "/exports/99")[0] == 404


def test_sizes_that_are_asked_for_are_few_shared_bounded_in_time_and_given_up_with_their_askers(
    exports: Exports, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(exporting, "EXPORT", "json.tool")  # which waits for the end of what it reads: never answers
    path = f"/runs/{exports.run}/export-size?as=csv&from_utc_s="
    asked = exports.made_by._estimates
    for number in range(6):
        with pytest.raises(httpx2.ReadTimeout), exports.service.client as client:
            client.get(f"/api{path}{number}", headers=AUTHORIZED, timeout=0.1)
    until(lambda: not asked)
    monkeypatch.setattr(exporting, "ESTIMATE_S", 0.8)
    start_s = time.monotonic()
    with ThreadPoolExecutor() as pool:
        waiting = [pool.submit(exports.ask, "GET", f"{path}{number}") for number in (0, 1, 2, 3, 3)]
        until(lambda: sum(each.askers for each in asked.values()) == 5)
        assert len(asked) == exporting.ESTIMATES_MAX == 4
        status, answer = exports.ask("GET", f"{path}4")
        assert (status, answer["detail"]) == (409, "4 sizes are being worked out already; ask again in a moment.")
        answers = [each.result() for each in waiting]
    assert {(status, "too busy to tell" in answer["detail"]) for status, answer in answers} == {(409, True)}
    assert time.monotonic() - start_s < 2 * exporting.ESTIMATE_S  # not one after another
    assert not asked


def test_one_that_is_removed_while_it_is_made_ends_and_the_next_is_made(exports: Exports) -> None:
    one = exports.ask("POST", "/exports", {"run": exports.run, "as": "csv"})[1]["number"]
    other = exports.ask("POST", "/exports", {"run": exports.run, "as": "flac", "what": "waveforms"})[1]["number"]
    exports.until(one, "making")
    assert exports.ask("DELETE", f"/exports/{one}")[0] == 200
    assert exports.until(other, "made", "failed")["state"] == "made"
    assert sorted(path.name for path in exports.folder.iterdir()) == [f"{other}.flac", "mine.txt"]


def test_the_formats_are_told_with_what_each_can_hold(exports: Exports) -> None:
    told = {each["key"]: (each["whats"], each["trouble"]) for each in exports.ask("GET", "/exports/formats")[1]}
    assert told["csv"] == (["readings", "waveforms"], "")
    assert told["flac"] == (["waveforms"], "")


def test_a_report_is_made_beside_the_exports_and_fetched_as_pdf(exports: Exports) -> None:
    status, begun = exports.ask("POST", f"/runs/{exports.run}/report", {"as": "pdf", "paper": "letter"})
    assert (status, begun["what"], begun["as"]) == (201, "report", "pdf")
    told = exports.until(begun["number"], "made", "failed")
    assert (told["state"], told["trouble"]) == ("made", "")
    fetched = exports.file(begun["number"])
    assert fetched.headers["content-type"] == "application/pdf"
    assert fetched.headers["content-disposition"] == f'attachment; filename="{exports.run}-report.pdf"'
    assert fetched.content.startswith(b"%PDF-")
    assert exports.ask("POST", f"/runs/{exports.run}/report", {"as": "odt"})[0] == 422
    assert exports.ask("POST", "/runs/none/report")[0] == 404
