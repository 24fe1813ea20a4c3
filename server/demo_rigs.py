"""Rigs of the demo bench: which software board runs for which, several at once, and their names."""

import asyncio
from collections.abc import Container
from dataclasses import dataclass
from typing import Any

from server.demo_board import DemoBoard, DemoBoardError
from server.demo_list import FIRST
from server.rig import Rig

DEMO_RIG = "heron-{}"
DEMO_SERIAL = "HB-{:0>4}"


@dataclass(frozen=True, slots=True)
class Played:
    """What a software board plays: a motor, one of its stories over and over (empty: all in turn), and how fast."""

    motor: str
    story: str = ""
    pace: float = 1.0

    @property
    def words(self) -> str:
        return f"{self.motor} ({self.story})" if self.story else self.motor


def demo_name(played: Played, taken: Container[str]) -> str:
    """The motors that begin the demo have heron-1 and heron-2, where no rig of a person has; others the next free."""
    at = FIRST.index(played.motor) + 1 if played in map(Played, FIRST) else None
    number = len(FIRST) + 1
    if at is not None and DEMO_RIG.format(at) not in taken:
        return DEMO_RIG.format(at)
    while DEMO_RIG.format(number) in taken:
        number += 1
    return DEMO_RIG.format(number)


class Demo:
    """A software board that is starting or runs, and the rig that it is for."""

    def __init__(self, played: Played, rig: Rig) -> None:
        self.played = played
        self.ended = False
        self._rig = rig
        self._serial = DEMO_SERIAL.format(rig.name.rpartition("-")[2])  # heron-2 has board HB-0002
        self._board: DemoBoard | None = None
        rig.say_starting(f"Starting the software board {played.words.replace('_', ' ')}")
        self._life = asyncio.create_task(self._live())

    async def _live(self) -> None:
        """From its start to its end, which the rig then shows."""
        try:
            self._board = await DemoBoard.start(self.played.motor, self._serial, self.played.story, self.played.pace)
            await asyncio.shield(self._rig.connect(self._board.url))  # half a connection would be nobody's to close
            sentence = await self._board.ended()
        except DemoBoardError as error:
            sentence = str(error)
        self.ended = True
        await self._rig.end(sentence)

    async def tell(self, order: dict[str, Any]) -> dict[str, Any]:
        """What a person changes on the motor; the answer of its board. DemoBoardError, RefusedSettingError."""
        if self._board is None or self.ended:
            how = "has ended" if self.ended else "is still starting"
            raise DemoBoardError(f"The software board {self.played.motor} {how}.")
        return await self._board.tell(order)

    async def stop(self, ended: str = "") -> None:
        """The rig first, so that the end of its board is no gap in the recording."""
        self._life.cancel()
        await asyncio.gather(self._life, return_exceptions=True)
        await self._rig.stop(ended)
        if self._board is not None:
            await self._board.stop()
