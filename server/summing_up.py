"""Sums up runs that are closed or were left, the newest first, each in a child process of low priority.

The list of runs waits for none of it. What cannot be summed up is told with the reason, and not tried again before the
next start of the service.
"""

import asyncio
import logging
import sys
import time

from server.runs.shelf import Shelf

LOOK_EVERY_S = 1.0
COMMAND = ("-m", "server.runs.sum_up")

log = logging.getLogger(__name__)


class SummingUp:
    """Cancel `run()` to end; the child ends with it. `failed`: run -> why it could not be summed up."""

    def __init__(self, shelf: Shelf) -> None:
        self._shelf = shelf
        self.failed: dict[str, str] = {}

    async def run(self) -> None:
        while True:
            name = await asyncio.to_thread(self._shelf.to_sum_up, tuple(self.failed), time.time())
            if not name:
                await asyncio.sleep(LOOK_EVERY_S)
                continue
            try:
                said = await self._sum_up(name)
            except OSError as error:
                said = error.strerror or str(error)
            if said and self._shelf.is_there(name):
                self.failed[name] = said
                log.warning("The run %s could not be summed up: %s", name, said)

    async def _sum_up(self, name: str) -> str:
        """Why it failed, or empty."""
        process = await asyncio.create_subprocess_exec(
            sys.executable,
            *COMMAND,
            str(self._shelf.folder / name),
            stdin=asyncio.subprocess.PIPE,  # it ends when this closes, however the service ends
            stderr=asyncio.subprocess.PIPE,
            start_new_session=True,
        )
        try:
            assert process.stderr is not None
            said = (await process.stderr.read()).decode(errors="replace").strip()
            code = await process.wait()
        except asyncio.CancelledError:
            process.kill()
            await process.wait()
            raise
        if code == 0 and self._shelf.is_summed_up(name):
            return ""
        return said.splitlines()[-1][:200] if said else f"its program ended with code {code}"
