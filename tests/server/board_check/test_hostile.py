"""Whatever a board says, the checks say what they think of it and do not fall over it."""

from dataclasses import replace
from typing import Any

from hypothesis import given
from hypothesis import strategies as st

from firmware_protocol import FROM_BOARD, ChannelDescription, ClockReply, Identity, InputDescription, Message, Received
from server.board_check import CHECKS, Heard, Phase, Record, State, script
from server.board_check.report import Found, json_lines, judged, report, table
from tests.firmware_protocol.strategies import BY_TYPE, examples

ANY = st.lists(st.one_of(*(BY_TYPE[kind] for kind in FROM_BOARD)), max_size=25)
TOKENS = (1, 2, 3)


@st.composite
def sayings(draw: st.DrawFn) -> list[Message]:
    """A description that is complete, and then anything, much of it of the groups and inputs described."""
    channels: list[Any] = draw(st.lists(BY_TYPE[ChannelDescription], max_size=3))
    inputs: list[Any] = draw(st.lists(BY_TYPE[InputDescription], max_size=2))
    who: Any = draw(BY_TYPE[Identity])
    who = replace(who, channels=len(channels), inputs=len(inputs))
    described = [replace(one, index=k) for kind in (channels, inputs) for k, one in enumerate(kind)]
    rest: list[Any] = draw(ANY)
    for k, one in enumerate(rest):
        if hasattr(one, "group") and hasattr(one, "words") and channels and channels[0].group is not None:
            rest[k] = replace(one, group=channels[0].group)
        if isinstance(one, ClockReply) and one.token % 2:
            rest[k] = replace(one, token=TOKENS[k % 3])
    return [who, *described, *rest]


@st.composite
def records(draw: st.DrawFn) -> Record:
    """What it said, cut anywhere into phases; some of it with another boot byte, some of a file without arrivals."""
    answers = draw(st.booleans())
    phases = [Phase(step.phase, float(k)) for k, step in enumerate(script(2.0, answers))]
    record = Record(2.0, draw(st.none() | st.just(11_520.0)), phases, {token: 0.1 * token for token in TOKENS}, answers)
    said = draw(sayings()) + draw(sayings())
    cuts = sorted(draw(st.lists(st.integers(0, len(phases) - 1), min_size=len(said), max_size=len(said))))
    boot = draw(st.sampled_from((0, 0, 0, 5)))
    for k, (message, cut) in enumerate(zip(said, cuts, strict=True)):
        at_s = None if boot == 5 else cut + k / len(said)
        phases[cut].heard.append(Heard(at_s, Received(message, boot + (k > 20 and boot == 5), k, 9 * k)))
    record.gone = draw(st.sampled_from(["", "", phases[-1].name]))
    return record


@examples(60)
@given(record=records())
def test_any_record_is_judged_and_told(record: Record) -> None:
    found: Found = judged(CHECKS, record)
    assert all(seen.what for _, seen in found)
    lines = [*table(found), *json_lines(found), *report("x", "now", "0", record, found)]
    assert all(letter.isprintable() for line in lines for letter in line)
    assert any(seen.state is State.FAILED for _, seen in found)
