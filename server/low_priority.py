"""Programs of low priority that work on recorded runs while motors may be watched: one at a time, or asked.

And whoever starts them turn after turn, as long as the service runs.
"""

import asyncio
import json
import logging
import sys
from asyncio.subprocess import PIPE, Process
from collections.abc import AsyncIterator, Awaitable, Callable
from contextlib import suppress
from pathlib import Path
from typing import Any

SAID_MAX = 200  # characters
AGAIN_S = 10.0  # after a turn that failed
SILENT_MAX_S = 2 * 3600.0  # of a program, which tells each hundredth of its work: it hangs, and others wait for its end
ENDED = "its program was ended"  # by something else than itself

log = logging.getLogger(__name__)


async def turns(what: str, turn: Callable[[], Awaitable[float]], troubles: dict[str, str]) -> None:
    """Turn after turn, with as many seconds between them as each one says. Cancel it to end.

    One that fails is told, in `troubles` too until one does not, and the next one comes.
    """
    while True:
        try:
            pause_s = await turn()
            troubles.pop(what, None)
        except Exception as error:  # the disk's or ours, whatever it is: else nothing is done until the next start
            why = str(getattr(error, "strerror", None) or error or type(error).__name__).rstrip(".")
            said = f"{what}: {why}; it is tried again"
            if troubles.get(what) != said:
                log.warning("%s", said, exc_info=not isinstance(error, OSError))
            troubles[what], pause_s = said, AGAIN_S
        await asyncio.sleep(pause_s)


class Children:
    """One program after another, whoever asks. Cancel a call to end its program."""

    def __init__(self) -> None:
        self.troubles: dict[str, str] = {}  # of those who start them, in a sentence
        self._turn = asyncio.Lock()

    async def run(self, module: str, run: Path, *options: str, share: Callable[[float], None] | None = None) -> str:
        """Run `python -m MODULE RUN OPTIONS`; why it failed, or empty. `share`: is told how far it is, from 0 to 1."""
        async with self._turn:
            try:
                return await _run(module, run, *options, share=share)
            except OSError as error:
                return error.strerror or str(error)


async def _run(module: str, run: Path, *options: str, share: Callable[[float], None] | None) -> str:
    process = await asyncio.create_subprocess_exec(
        sys.executable,
        "-m",
        module,
        str(run),
        *options,
        stdin=asyncio.subprocess.PIPE,  # it ends when this closes, however the service ends
        stdout=asyncio.subprocess.PIPE,
        stderr=asyncio.subprocess.PIPE,
        start_new_session=True,
    )
    try:
        assert process.stdout is not None
        assert process.stderr is not None
        heard, _ = await asyncio.gather(process.stderr.read(), _shares(process.stdout, share))
        said = heard.decode(errors="replace").strip()
        code = await process.wait()
    except TimeoutError:
        process.kill()
        await process.wait()
        return f"{ENDED}, as it told nothing for {SILENT_MAX_S / 3600.0:g} h"
    except asyncio.CancelledError:
        process.kill()
        await process.wait()
        raise
    if code == 0:
        return ""
    if code < 0:
        return f"{ENDED} by signal {-code}; perhaps this PC has too little memory"
    return said.splitlines()[-1][:SAID_MAX] if said else f"its program ended with code {code}"


async def _shares(lines: asyncio.StreamReader, share: Callable[[float], None] | None) -> None:
    """Each line that is a number; whatever else a program says there is not asked for. Raises TimeoutError."""
    while True:
        async with asyncio.timeout(SILENT_MAX_S):
            line = await lines.readline()
        if not line:
            return
        with suppress(ValueError):
            if share is not None:
                share(float(line))


async def asking(program: str) -> Process:
    """A program that takes a line of JSON and tells lines of JSON. It ends when its standard input closes, however the
    service ends. Raises OSError."""
    command = (sys.executable, "-m", program)
    return await asyncio.create_subprocess_exec(*command, stdin=PIPE, stdout=PIPE, start_new_session=True)


async def answers(process: Process, request: dict[str, Any]) -> AsyncIterator[dict[str, Any]]:
    """What it tells of a request, line by line, until it has ended; who stops listening ends it."""
    assert process.stdin is not None
    assert process.stdout is not None
    try:
        process.stdin.write(json.dumps(request).encode() + b"\n")
        async for line in process.stdout:
            yield json.loads(line)
        await process.wait()
    finally:
        if process.returncode is None:
            process.kill()
            await process.wait()
