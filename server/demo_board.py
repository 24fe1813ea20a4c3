"""A software board as a child of the service: started by its command line, held by its standard input.

The child ends itself when its standard input closes, so nothing stays behind however the service ends. The service
never imports it: what comes from it comes over the wire, like from any board.
"""

import asyncio
import json
import sys
from typing import Any

START_S = 60.0  # the first start compiles the motor's model
ANSWER_S = 5.0  # a software board that computes on a busy computer answers between two stretches
STOP_S = 1.2  # twice that and the rigs' own stop are within the five seconds of an orderly end
COMMAND = ("-m", "simulator", "motor")


class DemoBoardError(Exception):
    """The software board did not start; the sentence says what it said."""


class RefusedSettingError(ValueError):
    """The software board does not take what it was told; the sentence is its own, `key` the setting or empty."""

    def __init__(self, sentence: str, key: str = "") -> None:
        super().__init__(sentence)
        self.key = key


class DemoBoard:
    """A running software board; `url` is what a port opens."""

    def __init__(self, motor: str, url: str, process: asyncio.subprocess.Process) -> None:
        self.motor = motor
        self.pid = process.pid
        self.url = url
        self._process = process
        self._talking = asyncio.Lock()
        self._orders = 0

    @classmethod
    async def start(cls, motor: str, serial: str, story: str = "", pace: float = 1.0) -> "DemoBoard":
        """Raises DemoBoardError. `motor` and `story` (empty: all in turn) are names of the bench's own list, never a
        person's text; `serial` is ours too. `pace`: seconds of the board in one of ours."""
        options = [*(("--story", story) if story else ()), *(("--pace", f"{pace:g}") if pace != 1.0 else ())]
        try:
            process = await asyncio.create_subprocess_exec(
                sys.executable,
                *COMMAND,
                motor,
                "--serial",
                serial,
                *options,
                stdin=asyncio.subprocess.PIPE,
                stdout=asyncio.subprocess.PIPE,
                start_new_session=True,  # Ctrl-C is for the service, which then ends its boards in order
            )
        except OSError as error:
            raise DemoBoardError(f"The software board {motor} could not be started ({error.strerror}).") from error
        assert process.stdout is not None
        board = cls(motor, "", process)
        try:
            line = await asyncio.wait_for(process.stdout.readline(), START_S)
        except asyncio.CancelledError:
            await board.stop()
            raise
        except TimeoutError:
            await board.stop()
            raise DemoBoardError(f"The software board {motor} gave no port within {START_S:.0f} s.") from None
        board.url = line.decode(errors="replace").strip()
        if not board.url:
            await board.stop()
            raise DemoBoardError(f"The software board {motor} did not start: it {_end(process.returncode)}.")
        return board

    async def ended(self) -> str:
        """Wait until the child has ended by itself; the sentence for the person."""
        return f"The software board {self.motor} {_end(await self._process.wait())}."

    async def tell(self, order: dict[str, Any]) -> dict[str, Any]:
        """Tell the child what a person changes, one JSON object a line (simulator/teaching.py); returns its answer.

        Raises RefusedSettingError with what it says against it, DemoBoardError where no answer comes.
        """
        assert self._process.stdin is not None
        assert self._process.stdout is not None
        async with self._talking:
            self._orders += 1
            line = json.dumps({**order, "id": self._orders})
            try:
                self._process.stdin.write(line.encode() + b"\n")
                async with asyncio.timeout(ANSWER_S):
                    await self._process.stdin.drain()
                    while (answer := _answer(await self._process.stdout.readline())).get("id") != self._orders:
                        pass  # to an order before, whose time was over
            except TimeoutError:
                raise DemoBoardError(f"The software board {self.motor} gave no answer; try again.") from None
            except (OSError, ValueError):
                raise DemoBoardError(f"The software board {self.motor} has ended or said what nobody reads.") from None
        if "error" in answer:
            raise RefusedSettingError(str(answer["error"]), str(answer.get("key", "")))
        return answer

    async def stop(self) -> None:
        """End the child: by closing its standard input, and by force if that does not do."""
        assert self._process.stdin is not None
        self._process.stdin.close()
        for force in (None, self._process.terminate, self._process.kill):
            if force is not None and self._process.returncode is None:
                force()
            try:
                await asyncio.wait_for(self._process.wait(), STOP_S)
            except TimeoutError:
                continue
            return


def _answer(line: bytes) -> dict[str, Any]:
    """One line of the child as it is meant. ValueError: it has ended, or this is no answer."""
    answer = json.loads(line)
    if not isinstance(answer, dict):
        raise ValueError
    return answer


def _end(code: int | None) -> str:
    """How a child ended, by its return code; one that failed has said why where the service was started."""
    if code is None or code == 0:
        return "ended by itself"
    if code < 0:
        return f"was killed (signal {-code})"
    return f"ended with code {code}; what it said stands in the terminal"
