"""Programs that work on recorded runs, one at a time and of low priority, while motors may be watched."""

import asyncio
import sys
from pathlib import Path

SAID_MAX = 200  # characters


class Children:
    """One program after another, whoever asks. Cancel a call to end its program."""

    def __init__(self) -> None:
        self._turn = asyncio.Lock()

    async def run(self, module: str, run: Path, *options: str) -> str:
        """Run `python -m MODULE RUN OPTIONS`; why it failed, or empty."""
        async with self._turn:
            try:
                return await _run(module, run, *options)
            except OSError as error:
                return error.strerror or str(error)


async def _run(module: str, run: Path, *options: str) -> str:
    process = await asyncio.create_subprocess_exec(
        sys.executable,
        "-m",
        module,
        str(run),
        *options,
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
    if code == 0:
        return ""
    return said.splitlines()[-1][:SAID_MAX] if said else f"its program ended with code {code}"
