"""The wiring of rigs that are watched: gathers what a shaft that is turned shows, and walks through the guided check.

All methods are called on the event loop's thread. Nothing is gathered of a rig whose Wiring screen nobody looks at,
unless a check is under way. Several viewers see the same check.
"""

import asyncio
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any, cast
from weakref import WeakKeyDictionary, proxy

from server.live.records import BoardClock
from server.live.view import View
from server.motors import motor_type
from server.pipeline import Output
from server.procedures import hall_check
from server.procedures.hall_guide import GUIDES, Key
from server.procedures.hall_records import Seen, State, Told
from server.procedures.hall_shown import check_record
from server.runs.beside import add_check
from server.turned import Turned
from server.verdict import Certainty, Verdict
from server.wiring.grounds import Grounds, Known
from server.wiring.names import UNNAMED, Names
from server.wiring.shown import far_record, fits_record, mend_record, timing_record, verdict_record
from server.wiring.verdicts import Judgement, verdicts

LISTENS_S = 30.0  # after the last look
CHECKS_S = 1800.0  # a check waits so long for its person to look again
KEPT_FORMAT = 1
_NOTHING: dict[str, Any] = {"far": None, "verdicts": [], "fits": [], "mends": [], "timing": None, "edges": 0}


class NothingToKeepError(Exception):
    """Why nothing can be kept, in a sentence without its stop."""


class _Watched:
    """One view: what was turned, the names of its wires, the check that is under way."""

    def __init__(self, view: View, utc_s: Callable[[], float]) -> None:
        self._view = cast(View, proxy(view))  # whoever knows the view may forget it
        self._utc_s = utc_s
        self._until_utc_s = 0.0
        self.turned = Turned(self._view)
        self.names: Names = UNNAMED
        self.check: State | None = None
        self.check_turned = Turned(self._view, whole=True)
        self._opened = 0
        self.concluded: tuple[Verdict, ...] = ()  # of the run, by what phases and edges do under power
        self._told: tuple[object, dict[str, Any]] = None, {}  # the newest answer, and what it was made of

    def looked(self) -> None:
        self._until_utc_s = self._utc_s() + (CHECKS_S if self.check is not None else LISTENS_S)
        self._view.followers.add(self.take)

    def take(self, output: Output, clock: BoardClock) -> None:
        if self._utc_s() > self._until_utc_s:
            self._view.followers.discard(self.take)
            self.turned, self.check_turned, self.check = Turned(self._view), Turned(self._view, whole=True), None
            return
        fresh = self.turned.take(output)
        if output.verdicts is not None:
            self.concluded = output.verdicts
        if self.check is not None:
            self.check_turned.take(output)
            if fresh:
                self.look()

    def look(self, told: Told | None = None) -> None:
        """The check, one look on; it begins a stretch of its own whenever the step says so."""
        if self.check is None:
            return
        moved, self.check = self.check.moved, hall_check.step(self.check, self.seen(), told)
        if self.check.moved and not moved:
            self.turned.anew()
        self.names = self.check.answers.names
        if self.check.opening != self._opened:
            self._opened = self.check.opening
            self.check_turned.anew()

    def wiring(self) -> dict[str, Any]:
        """Verdicts and drawings of what was turned; made once for all viewers."""
        known = self.known()
        made_of = self.turned.news, known, self.concluded
        if self._told[0] != made_of:
            grounds = self.turned.grounds(known)
            told = _NOTHING if grounds is None else _wiring(grounds, verdicts(grounds), self)
            self._told = made_of, told
        return self._told[1]

    def begin(self) -> None:
        """A check from its first step."""
        answers = replace(hall_check.begun().answers, names=self.names)
        self.check = replace(hall_check.begun(), answers=answers)
        self._opened = self.check.opening
        self.check_turned.anew()

    def seen(self) -> Seen:
        """What a step of the check sees now."""
        assert self.check is not None
        said = hall_check.forward_said(self.check)
        known = self.known(said)
        pairs = self.check.answers.pole_pairs or known.pole_pairs
        return replace(self.check_turned.seen(replace(known, pole_pairs=pairs)), opening=self._opened)

    def known(self, forward: bool | None = None) -> Known:
        """What person and plate say."""
        plate = self._view.motor.plate
        spacing = plate.hall_spacing_deg if plate.hall_spacing_deg in (60, 120) else 120
        sensor_a = self.turned.sensor_a
        return Known(self.names, forward, spacing_deg=spacing, pole_pairs=plate.pole_pairs, supply_a=sensor_a)


class Checking:
    """`utc_s`: the service's clock."""

    def __init__(self, utc_s: Callable[[], float]) -> None:
        self._utc_s = utc_s
        self._watched = WeakKeyDictionary[View, _Watched]()  # a rig that is removed is forgotten with what was gathered
        self._writing = asyncio.Lock()

    def record(self, view: View) -> dict[str, Any]:
        """All that the Wiring screen shows beside the live picture. The first look begins to gather."""
        watched = self._of(view)
        names = watched.names
        return {
            "rig": view.name,
            "halls": watched.turned.halls,
            "names": {"halls": list(names.halls), "phases": list(names.phases)},
            "check": None if watched.check is None else check_record(watched.check, watched.seen()),
            **watched.wiring(),
        }

    def anew(self, view: View) -> None:
        """Forget what was turned so far: the wires are other ones."""
        self._of(view).turned.anew()

    def name_wires(self, view: View, names: Names) -> None:
        """What the person calls the wires, by their present places."""
        watched = self._of(view)
        watched.names = names
        if watched.check is not None:
            watched.check = replace(watched.check, answers=replace(watched.check.answers, names=names))

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
        self._of(view).look(told)

    async def keep(self, view: View, run: Path | None) -> int:
        """Keep verdicts, figures and steps beside the run; answers with the number. Raises NothingToKeepError,
        OSError."""
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
            return await asyncio.to_thread(add_check, run, kept)

    def _of(self, view: View) -> _Watched:
        if view not in self._watched:
            self._watched[view] = _Watched(view, self._utc_s)
        self._watched[view].looked()
        return self._watched[view]


def _wiring(grounds: Grounds, judged: Judgement, watched: _Watched) -> dict[str, Any]:
    names, order = grounds.known.names, judged.order
    return {
        "far": far_record(judged, names),
        "order": order.verdict.key,
        "verdicts": [verdict_record(each) for each in (*judged.verdicts, *_driven(judged, watched))],
        "fits": fits_record(grounds, order),
        "mends": [mend_record(each, names) for each in order.mends],
        "fraction": None if order.fraction is None else round(order.fraction, 3),
        "timing": timing_record(watched.turned.around, order),
        "edges": grounds.course.edges,
        "induced": grounds.induced,
        "probed": grounds.probed,
    }


def _driven(judged: Judgement, watched: _Watched) -> list[Verdict]:
    """What shows only under power, beside what a turned shaft shows; nothing that stays open."""
    grounds = watched.turned.driven(watched.known())
    found = [*watched.concluded, *(() if grounds is None else verdicts(grounds).verdicts)]
    said, told = {each.key for each in judged.verdicts}, list[Verdict]()
    for each in found:
        if each.key not in said and each.certainty is not Certainty.OPEN:
            told.append(each)
            said.add(each.key)
    return told


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
