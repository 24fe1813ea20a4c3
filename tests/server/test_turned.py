"""What is held of a board's Hall inputs and leads: nothing of a board, or of a description, that was there before."""

from dataclasses import replace

import pytest

from firmware_protocol import Identity, Message, Role
from server.config import RigSettings
from server.hall.supply import SENSOR_SUPPLY
from server.live.records import Shown
from server.live.view import View
from server.pipeline import Output, Pipeline
from server.samples import Channel, SlowSample
from server.turned import Turned
from server.wiring.grounds import NOTHING_SAID
from tests.server.pipelines import wire
from tests.server.turned_board import description, messages
from tests.server.wiring.turned import Hand

SUPPLY = Channel(3, Role.CURRENT, "sensors", SENSOR_SUPPLY, "A", 0.0, 0.1)


class Board:
    """A board at a view, and what is gathered of it."""

    def __init__(self) -> None:
        self.view, self._pipeline = View("r"), Pipeline(RigSettings("r"))
        self.turned = Turned(self.view)

    def push(self, said: list[Message], boot: int = 1) -> None:
        data = wire(said, boot=boot)
        for at in range(0, len(data), 5000):
            for part in self._pipeline.push(data[at : at + 5000], 0.0).parts:
                motor = self._pipeline.motor
                self.view.motor = Shown(motor.name, motor.type, motor.plate, "board")
                self.view.take(part, part.clock)
                self.turned.take(part)


def test_between_two_windows_all_who_ask_get_the_same_grounds() -> None:
    board = Board()
    board.push(messages(Hand(turns=4.0)))
    grounds = board.turned.grounds(NOTHING_SAID)
    assert grounds is not None
    assert board.turned.grounds(NOTHING_SAID) is grounds
    told = board.turned.grounds(replace(NOTHING_SAID, pole_pairs=7))
    assert told is not None
    assert told.known.pole_pairs == 7
    board.turned.anew()
    after = board.turned.grounds(NOTHING_SAID)
    assert after is not None
    assert after.visits.count == 0


def named(said: list[Message], serial: str, boot: int) -> list[Message]:
    return [replace(each, serial=serial, boot=boot) if isinstance(each, Identity) else each for each in said]


@pytest.mark.parametrize(("serial", "boot"), [("T-7", 2), ("T-8", 9)], ids=["the same, started anew", "another one"])
def test_a_board_that_begins_anew_has_neither_the_levels_nor_the_supply_of_the_one_before(
    serial: str, boot: int
) -> None:
    board = Board()
    board.push(messages(Hand(turns=4.0)))
    board.turned.take(Output(slow=(SlowSample(SUPPLY, 0, 0, 0.012, False),)))
    before = board.turned.seen(NOTHING_SAID)
    assert before.sector
    assert before.sensor_a == 0.012
    board.push(named(description(), serial, boot), boot)
    after = board.turned.seen(NOTHING_SAID)
    assert (after.grounds, after.sector, after.sensor_a) == (None, 0, None)
