"""The wiring of all rigs as the Wiring screen asks for it, and the checks that are kept with their runs.

All methods are called on the event loop's thread; what touches the disk runs in another, one at a time.
"""

import asyncio
import time
from collections.abc import Callable
from math import ceil, inf
from pathlib import Path
from typing import Any
from weakref import WeakKeyDictionary

from server.config import Wires
from server.judging import Judging
from server.live.view import View
from server.motors import motor_type
from server.procedures.hall_guide import GUIDES, Key
from server.procedures.hall_records import Told
from server.runs.checks import CHECKS_MAX, add_check, delete_check, undo_check
from server.wiring.names import Names

KEPT_FORMAT = 1
KEEP_AGAIN_S = 5.0  # between two checks that are kept of one rig: who reads what is kept is slower


class NothingToKeepError(Exception):
    """Why nothing can be kept, in a sentence without its stop."""


class TooSoonError(Exception):
    """A check of this rig was kept just now. `wait_s`: until the next may be."""

    def __init__(self, wait_s: int) -> None:
        super().__init__(f"a check of this rig was kept just now; wait {wait_s} s")
        self.wait_s = wait_s


class Checking:
    """`utc_s`: the service's clock, for what is kept; `steady_s`: one that nobody sets, for how long it gathers."""

    def __init__(self, utc_s: Callable[[], float], steady_s: Callable[[], float] = time.monotonic) -> None:
        self._utc_s, self._steady_s = utc_s, steady_s
        self._watched = WeakKeyDictionary[View, Judging]()  # a rig that is removed is forgotten with what was gathered
        self._writing = asyncio.Lock()
        self._kept_s = WeakKeyDictionary[View, float]()  # when the last one was

    def record(self, view: View) -> dict[str, Any]:
        """All that the Wiring screen shows beside the live picture. The first look begins to gather."""
        watched = self._of(view)
        names = watched.names
        return {
            "rig": view.name,
            "halls": watched.turned.halls,
            "names": {"halls": list(names.halls), "phases": list(names.phases), "not_kept": watched.not_kept},
            **watched.record(),
        }

    def anew(self, view: View) -> None:
        """Forget what was turned so far: the wires are other ones."""
        self._of(view).anew()

    def drive_table(self, view: View, spacing_deg: int | None) -> None:
        """For sensors how far apart the drive's table is; None: as plate and person say."""
        self._of(view).table_deg = spacing_deg

    def name_wires(self, view: View, names: Names) -> None:
        """What the person calls the wires, by their present places."""
        self._of(view).name_wires(names)

    def wires(self, view: View) -> Wires:
        """What they are called now, as settings keep it: moves of the check take names along."""
        names = self._of(view).names
        return Wires(*names.halls, *names.phases)

    def not_kept(self, view: View, why: str) -> None:
        """Names hold until the service ends, as they could not be written into the settings; empty: they were."""
        self._of(view).not_kept = why

    def begin(self, view: View) -> None:
        """Begin the guided check, from its first step, whatever was under way."""
        watched = self._of(view)
        watched.begin()
        watched.looked()

    def leave(self, view: View) -> None:
        """End the check; what it found and was not kept is forgotten."""
        self._of(view).check = None

    def act(self, view: View, told: Told) -> None:
        """What a person did in the check; without a check it changes nothing."""
        self._of(view).act(told)

    async def keep(self, view: View, run: Path | None) -> int:
        """Keep verdicts, figures and steps beside the run; answers with the number. Raises NothingToKeepError,
        TooSoonError, OSError."""
        if run is None:
            raise NothingToKeepError("no run is being recorded that it could be kept with")
        record = self.record(view)
        if not record["verdicts"] and record["check"] is None:
            raise NothingToKeepError("nothing was turned or checked yet")
        identity = view.health.identity
        kept = {
            "format": KEPT_FORMAT,
            "kept_utc_s": view.time.of(self._utc_s()),
            "run": run.name,
            "serial": "" if identity is None else identity.serial,
            "source": "" if identity is None else identity.source,
            "motor": view.motor.name,
            "plate": _plate_words(view),
            "cautions": _cautions(),
            **record,
        }
        async with self._writing:
            left_s = self._kept_s.get(view, -inf) + KEEP_AGAIN_S - self._steady_s()
            if left_s > 0.0:
                raise TooSoonError(ceil(left_s))
            number = await asyncio.to_thread(add_check, run, kept)
            if number is None:
                what = f"{CHECKS_MAX} checks are kept with this run already"
                raise NothingToKeepError(f"{what}; delete one of them on the page of the run first")
            self._kept_s[view] = self._steady_s()
            return number

    async def delete_kept(self, run: Path, number: int) -> None:
        """Put a kept check aside; it can be brought back for a while. Raises OSError."""
        async with self._writing:
            await asyncio.to_thread(delete_check, run, number, self._utc_s())

    async def undo_kept(self, run: Path, number: int) -> bool:
        """Bring a deleted check back; False where no more can be kept with this run. Raises OSError."""
        async with self._writing:
            return await asyncio.to_thread(undo_check, run, number)

    def _of(self, view: View) -> Judging:
        if view not in self._watched:
            self._watched[view] = Judging(view, self._steady_s)
        self._watched[view].looked()
        return self._watched[view]


def _plate_words(view: View) -> str:
    kind, plate = motor_type(view.motor.type), view.motor.plate
    said = (
        "" if kind is None else kind.label,
        "" if plate.voltage_v is None else f"{plate.voltage_v:g} V",
        "" if plate.pole_pairs is None else f"{plate.pole_pairs} pole pairs",
    )
    return ", ".join(filter(None, said))


def _cautions() -> list[str]:
    """Of moving plugs and of the first power; those of the tests that are told stand with them."""
    return list(dict.fromkeys(text for key in (Key.MOVE, Key.POWER) for text in GUIDES[key].cautions))
