"""The service packs what nothing is added to any more, by itself, beside summing up; what fails is tried again."""

import asyncio
import os
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from server.low_priority import Children
from server.packing import RETRY_S, Packing
from server.runs.layout import segment_name
from server.runs.library import Library
from server.runs.replay import recorded
from server.runs.shelf import QUIET_S, Shelf
from tests.server.runs.recordings import segment_bytes
from tests.server.until import until

NAME = "20261125-1402-bench"


@pytest.fixture
def library(tmp_path: Path) -> Iterator[Library]:
    """One closed run of two segments, last written to a while ago."""
    run = tmp_path / "runs" / NAME
    run.mkdir(parents=True)
    whole = segment_bytes(6.0)
    for number, data in enumerate((whole[:40_000], whole), 1):
        (run / segment_name(number)).write_bytes(data)
        os.utime(run / segment_name(number), (time.time() - QUIET_S - 5.0,) * 2)
    made = Library(tmp_path / "runs")
    yield made
    made.close()


async def test_a_closed_run_is_packed_and_reads_as_before(library: Library) -> None:
    run, shelf = library.folder / NAME, Shelf(library)
    before = [each for each in recorded(run) if not isinstance(each, str)]
    packing = Packing(shelf, Children())
    task = asyncio.create_task(packing.run())
    await until(lambda: sorted(path.name for path in run.iterdir()) == ["0001.packed", "0002.packed"], 20.0)
    task.cancel()
    await asyncio.gather(task, return_exceptions=True)
    assert [each for each in recorded(run) if not isinstance(each, str)] == before
    assert shelf.to_pack((), time.time()) is None


async def test_what_cannot_be_packed_is_told_left_alone_for_a_while_and_tried_again(
    library: Library, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    asked = list[tuple[str, ...]]()

    class Refusing(Children):
        async def run(self, module: str, run: Path, *options: str, share: Callable[[float], None] | None = None) -> str:
            asked.append((module, run.name, *options))
            return "0001.run: No space left on device" if len(asked) < 3 else ""

    monkeypatch.setattr("server.packing.LOOK_EVERY_S", 0.01)
    children = Refusing()
    packing = Packing(Shelf(library), children)
    task = asyncio.create_task(packing.run())
    await until(lambda: bool(asked))
    await asyncio.sleep(0.1)
    assert asked == [("server.runs.pack", NAME, "--all")]
    assert f"{NAME} could not be packed and stays as it was written: 0001.run: No space left" in caplog.text
    clock, later_s = time.monotonic, [RETRY_S]
    told = (
        f"Not packed, so larger on the disk: {NAME} (0001.run: No space left on device); it is tried again every 10 min"
    )
    assert list(children.troubles.values()) == [told]
    monkeypatch.setattr("server.packing.time.monotonic", lambda: clock() + later_s[0])
    await until(lambda: len(asked) == 2)
    assert list(children.troubles.values()) == [told]
    later_s[0] += RETRY_S
    await until(lambda: not children.troubles)
    task.cancel()
    await asyncio.gather(task, return_exceptions=True)


def test_of_an_open_run_only_what_is_closed_is_packed_and_a_run_that_just_closed_is_left_for_a_while(
    library: Library,
) -> None:
    run, shelf, now_s = library.folder / NAME, Shelf(library), time.time()
    os.utime(run / "0002.run", (now_s, now_s))
    assert shelf.to_pack((), now_s) is None
    found = shelf.to_pack((), now_s + QUIET_S + 1.0)
    assert found is not None
    assert found.name == NAME
    assert shelf.to_pack((NAME,), now_s + QUIET_S + 1.0) is None
    whole = (run / "0002.run").read_bytes()
    (run / "0002.run").write_bytes(whole[:50_000])
    library.look_again(NAME)  # its end is gone: it is open
    found = Shelf(library).to_pack((), now_s)
    assert found is not None
    assert found.closed_utc_s is None
    (run / "0001.run").unlink()
    assert Shelf(library).to_pack((), now_s) is None
