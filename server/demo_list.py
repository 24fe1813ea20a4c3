"""The motors of the demo bench and their stories, as the software board lists them: a child process, asked once.

The service never imports the software board, so what can be played is what that says; a failed question is asked again.
"""

import asyncio
import json
import sys
from collections.abc import Iterable
from dataclasses import dataclass
from difflib import get_close_matches
from typing import Any

from server.demo_board import DemoBoardError

LIST_S = 60.0  # the first question compiles
COMMAND = ("-m", "simulator", "list", "--json")
FIRST = ("cabin_ventilator", "tender_thruster")  # what `serve --demo` starts, on heron-1 and heron-2


@dataclass(frozen=True, slots=True)
class DemoStory:
    """One story of a motor; `says` in a sentence what happens, `lasts_s` in board time."""

    name: str
    says: str
    lasts_s: float


@dataclass(frozen=True, slots=True)
class DemoMotor:
    """A motor of the demo bench; `says` what kind it is and what is on its shaft, `type` its motor type's key."""

    key: str
    name: str
    says: str
    type: str
    stories: tuple[DemoStory, ...]


class DemoList:
    """Asks the software board which motors there are, and keeps the answer."""

    def __init__(self) -> None:
        self._motors: tuple[DemoMotor, ...] = ()
        self._asking = asyncio.Lock()

    async def motors(self) -> tuple[DemoMotor, ...]:
        """All motors in the order of the bench. Raises DemoBoardError with what the software board said."""
        async with self._asking:
            if not self._motors:
                self._motors = await _asked()
        return self._motors

    async def check(self, motor: str, story: str) -> None:
        """Raises ValueError, a sentence, for a motor that is not on the bench and a story that it has not."""
        by_key = {each.key: each for each in await self.motors()}
        if motor not in by_key:
            raise ValueError(f"There is no demo motor {motor}; {_instead(motor, by_key)}.")
        names = [each.name for each in by_key[motor].stories]
        if story and story not in names:
            raise ValueError(f'The demo motor {motor} has no story "{story}"; {_instead(story, names)}.')


def _instead(word: str, known: Iterable[str]) -> str:
    near = get_close_matches(word, list(known), n=1, cutoff=0.5)
    return f"the nearest is {near[0]}" if near else f"there are {', '.join(known)}"


async def _asked() -> tuple[DemoMotor, ...]:
    pipe = asyncio.subprocess.PIPE
    try:
        child = await asyncio.create_subprocess_exec(
            sys.executable, *COMMAND, stdin=asyncio.subprocess.DEVNULL, stdout=pipe, stderr=pipe, start_new_session=True
        )
    except OSError as error:
        raise DemoBoardError(f"The demo bench could not be asked what there is ({error.strerror}).") from error
    try:
        said, complaint = await asyncio.wait_for(child.communicate(), LIST_S)
    except TimeoutError:
        raise DemoBoardError(f"The demo bench did not say within {LIST_S:.0f} s what there is.") from None
    finally:
        if child.returncode is None:
            child.kill()
            await child.wait()
    try:
        return tuple(_motor(each) for each in json.loads(said))
    except (ValueError, KeyError, TypeError):
        words = complaint.decode(errors="replace").strip().splitlines()
        why = words[-1] if words else f"it ended with code {child.returncode}"
        raise DemoBoardError(f"The demo bench did not say what there is: {why}.") from None


def _motor(said: dict[str, Any]) -> DemoMotor:
    stories = tuple(DemoStory(str(one["name"]), str(one["says"]), float(one["lasts_s"])) for one in said["stories"])
    return DemoMotor(str(said["key"]), str(said["name"]), str(said["says"]), str(said["type"]), stories)
