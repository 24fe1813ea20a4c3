"""What a person says of channels: by name or index, never what cannot be, and the rest stays as the board says it."""

from dataclasses import replace
from fractions import Fraction

import pytest

from firmware_protocol import ChannelDescription, Role
from server.config import ChannelSettings
from server.stream.as_set import as_set


def channel(index: int, role: Role, name: str, place: str, unit: str) -> ChannelDescription:
    return ChannelDescription(index, role, name, place, unit, 0.01, 0.0, -32000, 32000, 0, Fraction(100))


BOARD = (
    channel(0, Role.VOLTAGE, "U", "supply", "V"),
    channel(1, Role.OTHER, "AUX", "", "A"),
    channel(2, Role.CURRENT, "I", "line", "A"),
)


def test_a_channel_is_found_by_its_name_or_its_index() -> None:
    for which in ("AUX", "aux", "1"):
        held, complaints = as_set(BOARD, [ChannelSettings(which, "current", "auxiliary")])
        assert held == (BOARD[0], replace(BOARD[1], role=Role.CURRENT, place="auxiliary"), BOARD[2])
        assert complaints == ()


def test_what_is_not_said_stays_as_the_board_says_it() -> None:
    held, _ = as_set(BOARD, [ChannelSettings("U", place="L1"), ChannelSettings("AUX", role="current")])
    assert [(each.role, each.place) for each in held] == [
        (Role.VOLTAGE, "L1"),
        (Role.CURRENT, ""),
        (Role.CURRENT, "line"),
    ]


def test_two_channels_may_exchange_their_places() -> None:
    turned = [ChannelSettings("AUX", "current", "x"), ChannelSettings("I", place="auxiliary")]
    held, complaints = as_set(BOARD, turned)
    assert [each.place for each in held] == ["supply", "x", "auxiliary"]
    assert complaints == ()
    both = (replace(BOARD[2], index=0, name="I1", place="L1"), replace(BOARD[2], index=1, name="I2", place="L2"))
    held, complaints = as_set(both, [ChannelSettings("I1", place="L2"), ChannelSettings("I2", place="L1")])
    assert [each.place for each in held] == ["L2", "L1"]
    assert complaints == ()


@pytest.mark.parametrize(
    ("said", "key", "what"),
    [
        (ChannelSettings("W", "current"), "channels.W", 'this board has no channel "W"'),
        (ChannelSettings("AUX", "voltage"), "channels.AUX.role", "channel AUX measures in A, a voltage is in V"),
        (ChannelSettings("AUX", "current", "LINE"), "channels.AUX.place", "two channels would be current at LINE"),
    ],
)
def test_what_cannot_be_is_told_and_not_used(said: ChannelSettings, key: str, what: str) -> None:
    held, complaints = as_set(BOARD, [said])
    assert held == BOARD
    assert [each[:2] for each in complaints] == [(key, what)]
