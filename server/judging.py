"""The wiring of one rig while somebody looks: gathers what is turned, judges it, walks through the guided check.

All methods are called on the event loop's thread. Nothing is gathered of a rig whose Wiring screen nobody looks at,
unless a check is under way. Several viewers see the same check.
"""

import logging
from collections.abc import Callable
from dataclasses import replace
from math import floor
from typing import Any, cast
from weakref import proxy

from server.config import Wires
from server.live.records import BoardClock
from server.live.view import View
from server.pipeline import Output
from server.procedures import hall_check
from server.procedures.hall_guide import Key
from server.procedures.hall_records import Observation, State, Told
from server.procedures.hall_shown import check_record
from server.turned import Turned
from server.verdict import Certainty, Sign, Speaks, Verdict
from server.verdicts.rule import AGREE
from server.wiring.faults.weak_supply import low_words, too_low
from server.wiring.grounds import Grounds, Known
from server.wiring.names import UNNAMED, Names, names_of, with_lead
from server.wiring.shown import far_record, fits_record, mend_record, timing_record, verdict_record
from server.wiring.verdicts import Judgement, verdicts

log = logging.getLogger(__name__)
LISTENS_S = 30.0  # after the last look
CHECKS_S = 1800.0  # a check waits so long for its person to look again
FAULT_WORD = "Can't be judged now"
_NOTHING: dict[str, Any] = {"far": None, "verdicts": [], "fits": [], "mends": [], "timing": None, "edges": 0}


class Judging:
    """Of one view: what was turned, the names of its wires, the check that is under way. `steady_s`: a clock that
    nobody sets, for how long it gathers."""

    def __init__(self, view: View, steady_s: Callable[[], float]) -> None:
        self._view = cast(View, proxy(view))  # whoever knows the view may forget it
        self._steady_s = steady_s
        self._until_s = 0.0
        self.names: Names = UNNAMED
        self.not_kept = ""  # why the settings do not hold these names, if so
        self._opened = 0
        self._fault = ""  # our own; nothing is gathered before it is tried anew
        self.table_deg: int | None = None  # of the drive, where a demo motor was told it
        self._wires = Wires()  # as the settings last said
        self._set_aside = 0  # looks of the run still to come before its verdicts are told: wires were moved
        self._forget()

    def _forget(self) -> None:
        """Nothing was turned, and no check is under way."""
        self.turned, self.check_turned = Turned(self._view), Turned(self._view, whole=True)
        self.check: State | None = None
        self._told: tuple[object, dict[str, Any]] = None, {}  # the newest answer, and what it was made of
        self._check_told: tuple[object, dict[str, Any]] = None, {}  # the same of the check

    def looked(self) -> None:
        """Gather for a while from now on; what failed is tried anew once nobody has looked for as long."""
        if self._view.wires != self._wires:  # a name said here holds until the settings say another
            self._wires = self._view.wires
            self.name_wires(names_of(self._wires))
        if self._steady_s() > self._until_s:
            self._fault = ""
        self._until_s = self._steady_s() + (CHECKS_S if self.check is not None else LISTENS_S)
        if not self._fault:
            self._view.followers.add(self.take)

    def take(self, output: Output, clock: BoardClock) -> None:
        """What one push brought. A fault of ours ends the gathering, never the rig."""
        if self._steady_s() > self._until_s:
            self._view.followers.discard(self.take)
            self._forget()
            return
        try:
            self._take(output)
        except Exception as error:  # ours: the rig is watched and recorded all the same
            self._failed(error)

    def _take(self, output: Output) -> None:
        if output.verdicts is not None:
            self._set_aside = max(self._set_aside - 1, 0)
        fresh = self.turned.take(output)
        if self.check is not None:
            self.check_turned.take(output)
            if fresh:
                self._look(None)

    def act(self, told: Told) -> None:
        """What a person did in the check."""
        try:
            self._look(told)
        except Exception as error:  # ours: the person is told so on the screen, and the service goes on
            self._failed(error)

    def _failed(self, error: Exception) -> None:
        log.exception("%s: judging the wiring failed; nothing more is gathered of it", self._view.name)
        self._view.followers.discard(self.take)
        self._forget()
        what = f"judging what was turned failed ({type(error).__name__}: {error})"
        self._fault = f"our own fault: {what}. Leave this screen for half a minute, then it is tried anew"

    def _look(self, told: Told | None) -> None:
        """The check, one look on; it begins a stretch of its own whenever the step says so."""
        if self.check is None:
            return
        moved, self.check = self.check.moved, hall_check.step(self.check, self._seen(), told)
        if self.check.moved and not moved:
            self.anew()
        self.names = self.check.answers.names
        if self.check.opening != self._opened:
            self._opened = self.check.opening
            self.check_turned.anew()

    def record(self) -> dict[str, Any]:
        """The check, and verdicts and drawings of what was turned."""
        if not self._fault:
            try:
                return {"check": self._check_record(), **self._wiring()}
            except Exception as error:  # ours: said on the screen in place of an answer
                self._failed(error)
        return {"check": None, **_NOTHING, "far": {"word": FAULT_WORD, "below": self._fault}}

    def _check_record(self) -> dict[str, Any] | None:
        """Made once for all viewers."""
        self._fill_in()
        if self.check is None:
            return None
        seen, plate = self._seen(), self._plate()
        made_of = self.check, self.check_turned.news, replace(seen, grounds=None), plate
        if self._check_told[0] != made_of:
            self._check_told = made_of, {**check_record(self.check, seen), "plate": plate}
        return self._check_told[1]

    def _wiring(self) -> dict[str, Any]:
        """Made once for all viewers."""
        known, run = self._known(), () if self._set_aside else self._view.concluded.verdicts
        made_of = self.turned.news, known, run
        if self._told[0] != made_of:
            grounds = self.turned.grounds(known)
            told = _NOTHING if grounds is None else _wiring(self.turned, grounds, run)
            self._told = made_of, told
        return self._told[1]

    def anew(self) -> None:
        """Forget what was turned so far, and what was concluded of the run until it is concluded again."""
        self._fault = ""
        self._set_aside = AGREE
        self.turned.anew()

    def name_wires(self, names: Names) -> None:
        """What the person calls the wires, by their present places."""
        self.names = names
        if self.check is not None:
            self.check = replace(self.check, answers=replace(self.check.answers, names=names))

    def begin(self) -> None:
        """A check from its first step; nothing is known of the board that an earlier one has seen."""
        self._fault = ""
        self.check = replace(hall_check.begun(), answers=replace(hall_check.begun().answers, names=self.names))
        self._fill_in()
        self._opened = self.check.opening
        self.check_turned = Turned(self._view, whole=True)
        self._check_told = None, {}

    def _fill_in(self) -> None:
        """What the plate knows, until the person has said it: the board may come later."""
        check = self.check
        if check is None or check.at is not Key.PLATE or check.answered:
            return
        plate, said = self._view.motor.plate, check.answers
        if self._view.motor.plate_source:
            pairs, amps, spacing = plate.pole_pairs, plate.current_a, plate.hall_spacing_deg
            its = replace(said, pole_pairs=pairs, rated_a=amps, spacing_deg=spacing)
            self.check = replace(check, answers=its)

    def _plate(self) -> dict[str, object]:
        """What the plate says of what a person is asked, and who said it: `board`, `settings` or nobody."""
        source, plate = self._view.motor.plate_source, self._view.motor.plate
        if not source:
            return {"source": "", "pole_pairs": None, "rated_a": None, "spacing_deg": None}
        return {
            "source": source,
            "pole_pairs": plate.pole_pairs,
            "rated_a": plate.current_a,
            "spacing_deg": plate.hall_spacing_deg,
        }

    def _seen(self) -> Observation:
        """What a step of the check sees now."""
        assert self.check is not None
        known = self._known(hall_check.forward_said(self.check))
        said = self.check.found.get(Key.PLATE)
        pairs = self.check.answers.pole_pairs or (None if said is not None and said.passed else known.pole_pairs)
        return replace(self.check_turned.seen(replace(known, pole_pairs=pairs)), opening=self._opened)

    def _known(self, forward: bool | None = None) -> Known:
        """What person and plate say."""
        plate = self._view.motor.plate
        spacing = plate.hall_spacing_deg if plate.hall_spacing_deg in (60, 120) else 120
        if self.check is not None and self.check.answers.spacing_deg is not None:
            spacing = self.check.answers.spacing_deg
        sensor_a, sensor_v = self.turned.sensor_a, self.turned.sensor_v
        return Known(
            self.names,
            forward,
            spacing_deg=self.table_deg or spacing,
            pole_pairs=plate.pole_pairs,
            counted=() if self.check is None else tuple((1, edges) for edges in self.check.counts),
            supply_a=None if sensor_a is None else float(f"{sensor_a:.2g}"),  # its noise is no news
            rated_a=plate.current_a if self.check is None else self.check.answers.rated_a or plate.current_a,
            supply_v=None if sensor_v is None else floor(20.0 * sensor_v) / 20.0,
            sensor_rated_v=None if self.check is None else self.check.answers.rated_v,
        )


def _wiring(turned: Turned, grounds: Grounds, run: tuple[Verdict, ...]) -> dict[str, Any]:
    """`run`: what is concluded of the run, by what phases and edges do under power."""
    judged, names = _doubted(verdicts(grounds), grounds.known), grounds.known.names
    order = judged.order
    return {
        "far": far_record(judged, names),
        "order": order.verdict.key,
        "verdicts": [verdict_record(each) for each in (*judged.verdicts, *_driven(judged, run, turned, grounds.known))],
        "fits": fits_record(grounds, order),
        "mends": [mend_record(each, names) for each in order.mends],
        "fraction": None if order.fraction is None else round(order.fraction, 3),
        "timing": timing_record(turned.around, order),
        "edges": grounds.course.edges,
        "induced": grounds.induced,
        "probed": grounds.probed,
    }


def _doubted(judged: Judgement, known: Known) -> Judgement:
    """Where the sensors' supply is too low, nothing that their signals say is plain."""
    if not too_low(known):
        return judged
    sign = Sign(Speaks.AGAINST, low_words(known))
    told = (
        each if each.certainty is not Certainty.PLAIN else replace(each, certainty=Certainty.PROBABLE, signs=signs)
        for each in judged.verdicts
        for signs in [(*each.signs, sign)]
    )
    return replace(judged, verdicts=tuple(told))


def _driven(judged: Judgement, run: tuple[Verdict, ...], turned: Turned, known: Known) -> list[Verdict]:
    """What shows only under power, beside what a turned shaft shows; nothing that stays open."""
    grounds = turned.driven(known)
    found = [*(with_lead(each, known.names) for each in run), *(() if grounds is None else verdicts(grounds).verdicts)]
    said, told = {(each.key, each.about) for each in judged.verdicts}, list[Verdict]()
    for each in found:
        if (each.key, each.about) not in said and each.certainty is not Certainty.OPEN:
            told.append(each)
            said.add((each.key, each.about))
    return told
