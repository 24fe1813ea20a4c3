"""The wire under attack: 10^5 mutated frames; ten million of them by `run.py prove wire`."""

import json
from pathlib import Path

import pytest

from firmware_protocol import decoder
from tests.firmware_protocol.mutations import FORGED_SHARE, run
from tests.proofs import wire

FRAMES = 100_000


def test_a_hundred_thousand_mutated_frames_raise_nothing_and_none_passes_unchecked() -> None:
    found = run("small", FRAMES)
    assert found["frames"] == FRAMES
    # Each half is exercised: noise is found by coding and checksum, forged frames get as far as their contents.
    noise = found["checksum"] + found["stuffing"] + found["short"] + found["too_long"]
    assert noise > 0.8 * (1 - FORGED_SHARE) * FRAMES
    assert found["malformed"] > 0.05 * FRAMES
    assert found["taken"] > 0.1 * FRAMES
    assert min(found[kind] for kind in ("checksum", "stuffing", "short", "too_long", "malformed", "lost")) > 10


def test_one_seed_gives_the_same_frames_again() -> None:
    assert run("again", 500) == run("again", 500) != run("other", 500)


def test_a_fault_is_told_with_what_brings_it_back(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(decoder, "ENCODED_FRAME_MAX", "no number")
    with pytest.raises(TypeError) as fault:
        run("faulty", 10)
    assert "mutations of seed 'faulty', stream of frames from 0 on" in fault.value.__notes__[0]


def test_the_large_proof_goes_on_where_it_was_stopped(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert wire.main(tmp_path, 5, frames=300, chunk=100) == 0
    whole = capsys.readouterr().out
    state = tmp_path / "wire.json"
    done = json.loads(state.read_text())
    assert (done["chunks"], done["found"]["frames"]) == (3, 300)
    state.unlink()
    assert wire.main(tmp_path, 5, frames=200, chunk=100) == 0
    capsys.readouterr()
    assert wire.main(tmp_path, 5, frames=300, chunk=100) == 0
    again = capsys.readouterr().out
    assert "100 frames in this run" in again
    assert again.splitlines()[:-1] == whole.splitlines()[:-1]
