"""Keeps what open runs have to say to a test plan: so it is known before they are summed up, and after a restart.

All methods are called on the event loop's thread; what touches the disk runs in another.
"""

import asyncio
from collections.abc import Callable, Iterable
from contextlib import suppress
from pathlib import Path

from server.low_priority import turns
from server.rig import Rig
from server.runs.beside import SoFar, keep_so_far

KEEP_EVERY_S = 10.0  # so much is not counted after a kill, until the run is summed up


def so_far(rig: Rig) -> SoFar:
    """What the run of a rig that records has to say, with all the time in it that nothing came."""
    assert rig.recording is not None
    return SoFar(rig.recording.evidence(), rig.view.recorded().gaps_s + rig.recording.silent_s)


class KeepingEvidence:
    """Cancel `run()` to end; what there is then is kept. `rigs`: those that record now."""

    def __init__(self, folder: Path, rigs: Callable[[], Iterable[Rig]], troubles: dict[str, str]) -> None:
        self._folder, self._rigs, self._troubles = folder, rigs, troubles
        self._closed: dict[Path, SoFar] = {}  # what was kept of runs that are closed: it changes no more

    async def run(self) -> None:
        try:
            await turns("What open runs have to say to a test plan is not kept", self._turn, self._troubles)
        finally:
            with suppress(OSError):  # the service ends, and the run is summed up from its bytes in the end
                self._keep(self._seen())

    async def keep(self) -> None:
        """What there is now. Raises OSError."""
        await asyncio.to_thread(self._keep, self._seen())

    async def _turn(self) -> float:
        await self.keep()
        return KEEP_EVERY_S

    def _seen(self) -> list[tuple[Path, bool, SoFar]]:
        """The folder of each run, whether it is open, and what it has to say."""
        return [
            (self._folder / recording.evidence_of, bool(recording.run), so_far(rig))
            for rig in self._rigs()
            if (recording := rig.recording) is not None and recording.evidence_of
        ]

    def _keep(self, seen: list[tuple[Path, bool, SoFar]]) -> None:
        """Raises OSError where one cannot be kept, once all others are."""
        failed, closed = "", dict[Path, SoFar]()
        for run, is_open, it in seen:
            try:
                if run.is_dir() and (is_open or self._closed.get(run) != it):
                    keep_so_far(run, it, is_open)
                closed |= {} if is_open else {run: it}
            except (OSError, ValueError) as error:  # the disk's, or a number that is none
                failed = failed or f"of {run.name}, {getattr(error, 'strerror', None) or error}"
        self._closed = closed
        if failed:
            raise OSError(None, failed)
