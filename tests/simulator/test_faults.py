"""simulator/faults.py: each fault through the decoder, against the truth that is kept of it."""

from fractions import Fraction

import numpy as np
import pytest

from firmware_protocol import (
    ChannelDescription,
    Damage,
    Decoder,
    Edges,
    Identity,
    InputDescription,
    InputKind,
    Message,
    Received,
    Role,
    Samples,
    Status,
    encode_frame,
)
from simulator.faults import FAULTS, SPOILING, Faults, Touched

BROKEN = {"stuffing", "checksum", "short", "too_long"}
REPORTED: dict[str, set[str]] = {
    "lost_bytes": BROKEN | {"lost"},
    "lost_frames": {"lost"},
    "flipped": BROKEN | {"lost"},
    "doubled": {"doubled"},
    "merged": BROKEN | {"lost"},
    "cut_off": BROKEN | {"lost"},
    "late": set(),
    "rubbish": BROKEN,
    "reset": BROKEN,
    "clock_step": set(),
}
REWRITING = ("reset", "clock_step")  # later messages have other ticks


def stream(blocks: int = 400) -> bytes:
    """A small board: its description, then blocks of one channel with edges and status between."""
    messages: list[Message] = [
        Identity(1, 0, 7, 1_000_000, 1, 1, "HB-0001"),
        ChannelDescription(0, Role.CURRENT, "I", "line", "A", 1e-3, 0, -9, 9, group=0, ticks_per_sample=Fraction(50)),
        InputDescription(0, InputKind.PULSE, "shaft", 0, 1),
    ]
    for number in range(blocks):
        tick = 1600 * number
        if number % 3 == 0:
            messages.append(Edges(number // 3, (tick,), bytes([number % 2])))
        if number % 10 == 0:
            messages.append(Status(tick, True, 0, overruns=number))
        messages.append(Samples(0, 1, 32 * number, tick, bytes(range(100, 164))))
    return b"".join(encode_frame(message, sequence=k, boot=7) for k, message in enumerate(messages))


CLEAN = stream()


def damaged(seed: int, rates: dict[str, float], clean: bytes = CLEAN) -> tuple[list[Received | Damage], Faults]:
    faults = Faults(seed, **rates)
    return Decoder().feed(faults.apply(clean) + faults.rest()), faults


def messages(found: list[Received | Damage]) -> list[Message]:
    return [one.message for one in found if isinstance(one, Received)]


def inside(offset: int, touched: list[Touched]) -> bool:
    return any(one.spoiled and one.offset <= offset < one.offset + one.length for one in touched)


def test_without_rates_nothing_is_touched() -> None:
    faults = Faults(1)
    assert faults.apply(CLEAN) + faults.rest() == CLEAN
    assert faults.touched == []


@pytest.mark.parametrize("kind", FAULTS)
def test_each_fault_is_reported_as_the_damage_that_it_is(kind: str) -> None:
    found, faults = damaged(3, {kind: 0.05})
    assert len(faults.touched) > 10
    assert {one.kind for one in faults.touched} == {kind}
    kinds = {one.kind.value for one in found if isinstance(one, Damage)}
    assert kinds <= REPORTED[kind]
    assert bool(kinds) == bool(REPORTED[kind])


@pytest.mark.parametrize("kind", [kind for kind in FAULTS if kind not in REWRITING])
def test_what_is_not_spoiled_arrives_and_what_is_spoiled_does_not(kind: str) -> None:
    found, faults = damaged(4, {kind: 0.05})
    whole = [one for one in Decoder().feed(CLEAN) if isinstance(one, Received)]
    assert messages(found) == [one.message for one in whole if not inside(one.offset, faults.touched)]
    assert {one.spoiled for one in faults.touched} == {kind in SPOILING}


@pytest.mark.parametrize("kind", ["lost_bytes", "lost_frames", "flipped", "merged", "cut_off"])
def test_the_frames_reported_lost_are_the_frames_spoiled(kind: str) -> None:
    found, faults = damaged(5, {kind: 0.05}, CLEAN + encode_frame(Status(10**6, True, 0), sequence=577, boot=7))
    whole = Decoder().feed(CLEAN)
    last = whole[-1]
    assert isinstance(last, Received)
    assert last.sequence == 576
    lost = sum(one.frames for one in found if isinstance(one, Damage) and one.kind.value == "lost")
    assert lost == sum(inside(one.offset, faults.touched) for one in whole if isinstance(one, Received))


@pytest.mark.parametrize("kind", FAULTS)
def test_one_seed_gives_the_same_bytes_in_any_cut(kind: str) -> None:
    whole, pieces, other = (Faults(seed, **{kind: 0.05}) for seed in (6, 6, 7))
    expected = whole.apply(CLEAN) + whole.rest()
    got = b"".join(pieces.apply(CLEAN[at : at + 37]) for at in range(0, len(CLEAN), 37)) + pieces.rest()
    assert got == expected
    assert pieces.touched == whole.touched
    other.apply(CLEAN)
    assert other.touched != whole.touched


def test_late_frames_come_in_one_lump_and_no_byte_is_changed() -> None:
    faults = Faults(8, late=0.01)
    frames = [frame + b"\0" for frame in CLEAN.split(b"\0")[:-1]]
    came = [faults.apply(frame) for frame in frames]
    assert b"".join(came) + faults.rest() == CLEAN
    silent = [k for k, out in enumerate(came) if not out]
    lumps = [out.count(b"\0") for out in came if out.count(b"\0") > 1]
    assert len(lumps) >= 2
    assert min(lumps) >= 6
    assert len(silent) >= sum(lumps) - len(lumps)


def test_a_reset_begins_anew_in_everything() -> None:
    found, faults = damaged(11, {"reset": 0.004})
    assert len(faults.touched) >= 2
    whole = [one for one in found if isinstance(one, Received)]
    boots = sorted({one.boot for one in whole})
    assert boots == list(range(7, 7 + len(boots)))
    assert len(boots) == 1 + sum(1 for one in found if isinstance(one, Damage))  # a torn frame for each
    for boot in boots[1:]:
        mine = [one for one in whole if one.boot == boot]
        assert [one.sequence for one in mine] == list(range(len(mine)))
        identity = mine[0].message
        assert isinstance(identity, Identity)
        assert identity.boot == boot
        assert [type(one.message) for one in mine[1:3]] == [ChannelDescription, InputDescription]
        blocks = [one.message for one in mine if isinstance(one.message, Samples)]
        edges = [one.message for one in mine if isinstance(one.message, Edges)]
        statuses = [one.message for one in mine if isinstance(one.message, Status)]
        assert [block.first_sample for block in blocks] == [32 * k for k in range(len(blocks))]
        assert [block.tick - blocks[0].tick for block in blocks] == [1600 * k for k in range(len(blocks))]
        assert 0 <= blocks[0].tick < 20 * 1600
        assert [edge.first_edge for edge in edges] == list(range(len(edges)))
        assert [status.overruns for status in statuses] == [10 * k + 10 for k in range(len(statuses))]


def test_all_faults_together_never_make_a_message_that_was_not_sent() -> None:
    rates = {kind: 0.02 for kind in FAULTS if kind not in REWRITING}
    sent = messages(Decoder().feed(CLEAN))
    for seed in range(20):
        found, faults = damaged(seed, rates)
        assert all(message in sent for message in messages(found))
        assert len(messages(found)) >= len(sent) - 2 * sum(one.spoiled for one in faults.touched)


def test_a_clock_that_steps_moves_all_later_ticks_by_the_same_and_nothing_else() -> None:
    found, faults = damaged(3, {"clock_step": 0.02})
    sent = [one for one in Decoder().feed(CLEAN) if isinstance(one, Received)]
    got = [one for one in found if isinstance(one, Received)]
    assert [(one.sequence, type(one.message)) for one in got] == [(one.sequence, type(one.message)) for one in sent]
    later = [
        (a.message.tick - b.message.tick, a.message.first_sample - b.message.first_sample)
        for a, b in zip(got, sent, strict=True)
        if isinstance(a.message, Samples) and isinstance(b.message, Samples)
    ]
    jumps = [tick for tick, _ in later]
    assert {first for _, first in later} == {0}
    assert jumps == sorted(jumps)
    assert jumps[0] == 0
    assert 1 < len(set(jumps)) <= len(faults.touched) + 1
    steps = np.diff(sorted(set(jumps)))
    assert steps.min() >= 1_000


def test_all_faults_and_resets_together_are_survived() -> None:
    for seed in range(20):
        found, _ = damaged(seed, dict.fromkeys(FAULTS, 0.01))
        assert len(messages(found)) > 300


@pytest.mark.parametrize(
    ("rates", "named"),
    [({"lots": 0.1}, "lots"), ({"flipped": -0.1}, "none below 0"), ({"late": 0.6, "merged": 0.6}, "at most 1")],
)
def test_rates_that_make_no_sense_are_refused(rates: dict[str, float], named: str) -> None:
    with pytest.raises(ValueError, match=named):
        Faults(1, **rates)
