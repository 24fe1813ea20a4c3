"""The wire under attack: 10^5 mutated frames; ten million of them by `run.py prove wire`."""

from tests.firmware_protocol.mutations import FORGED_SHARE, run

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
