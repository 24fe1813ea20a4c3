"""Runs as earlier versions recorded and packed them open for ever, with the same bytes and the same figures.

They lie in `tests/golden`, each in a folder named after its format: a new format adds one, none is ever made again. All
are of a board of 1000 samples a second whose cable was out for 50 ms.
"""

from dataclasses import dataclass
from hashlib import sha256
from pathlib import Path

import pytest

from server.commands.read import main as read
from server.runs.layout import Entry, Kind
from server.runs.library import summary_of
from server.runs.replay import Replay, recorded
from server.runs.segments import last_entry, next_number
from server.runs.sum_up import summed_up

GOLDEN = Path(__file__).resolve().parent.parent.parent / "golden"
BYTES_MAX = 100_000


@dataclass(frozen=True, slots=True)
class Figures:
    """Of one run: its entries, SHA-256 of the wire bytes in them, samples promised and stored, a reading at its end."""

    entries: int
    wire: str
    promised: int
    stored: int
    volts: float | None


RUNS = {
    "plain": Figures(44, "0949e4962d2d44f2f019234ead54969a8a52ce03799807f666f87dabba838925", 2000, 1950, 230.0),
    "packed": Figures(45, "a5ff149610e7ee8c1b8f9ae8b051870f37c679a0d2323a8412226deb854d0305", 2000, 1940, 230.0),
    "wire_0_10": Figures(18, "de9eb9fb7d0d9d81a0c210842b92129d808c3f45761caf2da98e6ede8b9ff6c7", 700, 650, None),
}


@pytest.fixture(params=RUNS)
def golden(request: pytest.FixtureRequest) -> tuple[Path, Figures]:
    (run,) = (GOLDEN / request.param).iterdir()
    return run, RUNS[request.param]


def test_its_entries_and_its_bytes_are_those_that_were_recorded(golden: tuple[Path, Figures]) -> None:
    run, figures = golden
    said = list(recorded(run))
    assert all(isinstance(each, Entry) for each in said)
    entries = [each for each in said if isinstance(each, Entry)]
    assert len(entries) == next_number(run) == figures.entries
    wire = b"".join(each.payload for each in entries if each.kind is Kind.CHUNK)
    assert sha256(wire).hexdigest() == figures.wire
    last = last_entry(run)
    assert last is not None
    assert (last.number, last.entry) == (figures.entries - 1, entries[-1])
    summary = summary_of(run)
    assert (summary.rig, summary.serial, summary.reason) == ("bench", "T-1", "ended by a person")


def test_it_plays_and_its_figures_are_those_of_then(golden: tuple[Path, Figures]) -> None:
    run, figures = golden
    digest = summed_up(run)
    assert (digest["motor"], digest["troubles"]) == ("test fan", [])
    assert len(digest["gaps"]) == 1
    assert "Power came on" in [each["text"] for each in digest["events"]]
    (samples,) = (line for line in digest["account"] if line["what"] == "samples")
    assert (samples["promised"], samples["stored"], samples["exact"]) == (figures.promised, figures.stored, True)
    assert samples["missing"] == {"cable out": figures.promised - figures.stored}
    if figures.volts is not None:
        assert volts_at_its_end(run) == pytest.approx(figures.volts, rel=0.002)


def volts_at_its_end(run: Path) -> float:
    played = [each.output for each in Replay(run) if each.output is not None]
    instants = [instant for output in played for part in output.parts for instant in part.instants]
    readings = [each.value for instant in instants for each in instant.readings if each.id == "voltage_rms_v"]
    return next(each for each in reversed(readings) if isinstance(each, float))


def test_the_command_line_reads_it(golden: tuple[Path, Figures], capsys: pytest.CaptureFixture[str]) -> None:
    assert read([str(golden[0])]) == 0
    assert '"kind":"readings"' in capsys.readouterr().out


def test_all_of_them_are_small_and_each_is_tested() -> None:
    assert {path.name for path in GOLDEN.iterdir()} == set(RUNS)
    assert sum(path.stat().st_size for path in GOLDEN.rglob("*") if path.is_file()) <= BYTES_MAX
