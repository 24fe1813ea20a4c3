"""A run whose segment was damaged: exports and report say what they can, or why not, and never fail by mistake."""

import random
from collections.abc import Callable
from pathlib import Path

import pytest

from server.export import EXPORTS, ExportError, Wanted
from server.export.make import make
from server.report.make import rendered, report_of
from server.report.words import Times
from tests.server.export.runs import SHORT, run_of

Harm = Callable[[bytearray, random.Random], bytearray]


@pytest.fixture(scope="module")
def run(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return run_of(tmp_path_factory.mktemp("runs"), SHORT)


def flipped(data: bytearray, draw: random.Random) -> bytearray:
    for _ in range(draw.choice((1, 20, 200))):
        data[draw.randrange(len(data))] ^= 1 << draw.randrange(8)
    return data


def cut(data: bytearray, draw: random.Random) -> bytearray:
    return data[: draw.randrange(len(data))]


def mixed(data: bytearray, draw: random.Random) -> bytearray:
    for _ in range(draw.choice((1, 20))):
        at = draw.randrange(len(data))
        data[at : at + draw.randrange(100)] = draw.randbytes(draw.randrange(100))
    return data


@pytest.mark.parametrize("seed", range(2))
@pytest.mark.parametrize("harm", [flipped, cut, mixed])
def test_whatever_was_damaged_is_no_mistake_of_ours(run: Path, tmp_path: Path, harm: Harm, seed: int) -> None:
    damaged = tmp_path / run.name
    damaged.mkdir()
    whole = bytearray((run / "0001.run").read_bytes())
    (damaged / "0001.run").write_bytes(bytes(harm(whole, random.Random(seed))))
    wanted = [(export, what) for export in EXPORTS for what in export.whats]
    made = [why_not(lambda e=e, w=w: make(damaged, e.key, Wanted(w), tmp_path / f"{w}{e.suffix}")) for e, w in wanted]  # type: ignore[misc]  # defaults
    told = why_not(lambda: (tmp_path / "page").write_bytes(rendered(report_of(damaged, 0.0), "html")))
    assert told == "" or "" not in made
    assert told or "What ran" in (tmp_path / "page").read_text()


def why_not(doing: Callable[[], object]) -> str:
    """The sentence of an ExportError, or empty; anything else fails the test."""
    try:
        doing()
    except ExportError as error:
        return str(error)
    return ""


def test_a_time_beyond_every_calendar_is_shown_as_the_last_one() -> None:
    times = Times(0.0, 1e18)
    assert times.whole(1e18).endswith("UTC")
    assert len(times.ticks(0.0, 1e18)) < 30
