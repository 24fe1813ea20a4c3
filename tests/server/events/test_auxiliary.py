"""The auxiliary winding's current goes and comes back."""

import numpy as np

from firmware_protocol import Role
from server.events.auxiliary import AUXILIARY
from server.events.block import Block
from tests.server.events.told import block, channel, stepped

CHANNELS = (channel(Role.VOLTAGE, "supply"), channel(Role.CURRENT, "line"), channel(Role.CURRENT, "auxiliary"))
WAVE = np.sqrt(2) * np.sin(2 * np.pi * 50.0 * np.arange(200) / 1000.0)


def pair(number: int, line_a: float, auxiliary_a: float) -> Block:
    values = np.vstack((230.0 * WAVE, line_a * WAVE, auxiliary_a * WAVE))
    return block(number, amps=line_a, values=values, channels=CHANNELS)


def test_lost_and_back_again() -> None:
    found = stepped(AUXILIARY, [pair(0, 0.5, 0.37), pair(1, 0.74, 0.001), pair(2, 0.5, 0.37)])
    assert [each.text for each in found] == ["Auxiliary current fell to zero", "Auxiliary current came back"]
    assert [round(each.board_s, 2) for each in found] == [0.2, 0.4]
    assert [each.detail for each in found] == ["line 0.74 A", "0.37 A, line 0.5 A"]  # 1 mA may be noise


def test_a_start_without_it_says_so_and_switching_off_is_no_loss() -> None:
    assert [each.text for each in stepped(AUXILIARY, [pair(0, 0.0, 0.0), pair(1, 1.3, 0.001)])] == [
        "Switched on without auxiliary current"
    ]
    assert stepped(AUXILIARY, [pair(0, 0.5, 0.37), pair(1, 0.0, 0.0)]) == []


def test_a_stream_that_begins_amid_a_run_tells_no_switching_on() -> None:
    assert stepped(AUXILIARY, [pair(0, 1.3, 0.001), pair(1, 1.3, 0.001)]) == []


def test_a_held_motor_whose_share_is_small_has_not_lost_it() -> None:
    assert stepped(AUXILIARY, [pair(0, 0.5, 0.37), pair(1, 1.28, 0.3)]) == []
