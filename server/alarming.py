"""The alarms of a rig that runs: what its pipeline says goes in, notices come out, what stands is kept in a file.

All methods but `load` and `write` are called on the event loop's thread; these two block on the disk. Nothing that
fails in here reaches the rig: it is logged once, and shown for as long as it lasts.
"""

import logging
import os
from collections import deque
from collections.abc import Callable, Iterable, Iterator
from dataclasses import asdict, replace
from pathlib import Path

from server.alarms.engine import Act, acted, step
from server.alarms.judging import ON
from server.alarms.kept import TOLD_MAX, Kept, UnreadableError, kept_from, kept_text
from server.alarms.life import State
from server.alarms.notice import Notice, Told
from server.alarms.quiet import receivers_of, waits_until_utc_s
from server.alarms.ready import OUTCOMES
from server.alarms.rule import Cause, Rule, rules_of
from server.alarms.seen import PlanOutcome, Seen
from server.alarms.shown import standing, watched_records
from server.alarms.telling import Teller, over
from server.config import RigSettings
from server.pipeline import Output
from server.verdict import Verdict
from server.whole_file import replace_file

KEEP_S = 600.0  # what drifts are judged by is kept so often, alarms at once
SOON_S = 10.0  # likewise whether the motor is on, and what is counted only: a motor may be switched every second
LASTED_S = 60.0  # for how long it has been so, in steps of this: a service that is killed loses no more of it
ASIDE_MAX = 100  # files that could not be read
_NUMBERS_A_SECOND = 10  # a rig of which nothing is kept begins to count where no number was used before

log = logging.getLogger(__name__)


class Alarming:
    """`file`: where all of it is kept, None: nowhere. `utc_s`: the service's clock, which never steps. `tell` hears of
    each change once; `run` says which run is recorded now, `rated_a` the current on the plate of the motor, `motor` its
    name."""

    def __init__(
        self,
        settings: RigSettings,
        file: Path | None,
        utc_s: Callable[[], float],
        tell: Callable[[Notice], None],
        run: Callable[[], str] = lambda: "",
        rated_a: Callable[[], float | None] = lambda: None,
        motor: Callable[[], str] = lambda: "",
    ) -> None:
        self.rig = settings.name
        self.told: deque[Notice] = deque(maxlen=TOLD_MAX)  # the newest last
        self._troubles: dict[str, str] = {}  # what fails now, by what it is of
        self._file, self._utc_s, self._tell, self._run = file, utc_s, tell, run
        self._rated_a, self._motor = rated_a, motor
        self._state = State(int(utc_s() * _NUMBERS_A_SECOND))
        self._kept_s = utc_s()
        self._unkept = False
        self._kept = _counted(self._state)
        self._verdicts = tuple[Verdict, ...]()
        self._anew = False
        self._tested: PlanOutcome | None = None
        self._planned = False
        self.change(settings)

    @property
    def rules(self) -> tuple[Rule, ...]:
        return self._rules

    def load(self) -> None:
        """What stood when the service ended. A file that cannot be read is set aside, and all begins anew."""
        if self._file is None:
            return
        try:
            kept = kept_from(self._file.read_bytes(), self._rules)
        except FileNotFoundError:
            return
        except (OSError, UnreadableError) as error:
            log.error("alarms of %s that stood are not known: %s, %s", self.rig, self._file, error)
            self._set_aside(self._file)
            return
        number = max(kept.state.number, self._state.number)
        self._state, self.told = replace(kept.state, number=number), deque(kept.told, TOLD_MAX)
        self._kept = _counted(self._state)
        self._plan(any(name in self._state.watching for name in OUTCOMES))

    def _set_aside(self, file: Path) -> None:
        """Under a name that none has; where that cannot be done the file stays, and nothing is written over it."""
        names = (file.with_name(f"{file.name}.unreadable{number}") for number in ("", *range(2, ASIDE_MAX)))
        try:
            aside = next(name for name in names if not name.exists())
            os.replace(file, aside)
        except (StopIteration, OSError) as error:
            if not os.path.lexists(file):
                return
            self._file = None
            self._fail("keeping", f"Alarms are not kept: {file} cannot be read, and cannot be set aside.", error)
        else:
            log.error("it is kept as %s", aside)

    def change(self, settings: RigSettings) -> None:
        """These settings hold from now on."""
        self._settings, self._calling = settings, settings.calling
        self._plan(self._planned)

    def test(self, tested: PlanOutcome | None) -> None:
        """How the test plan stands, so far; None: there is none."""
        self._tested = tested
        self._plan(tested is not None)

    def _plan(self, planned: bool) -> None:
        self._planned, self._rules = planned, rules_of(self._settings.alarms, planned)
        self._watches_coasts = any(rule.cause is Cause.DRIFT for rule in self._rules)

    def take(self, output: Output) -> None:
        """What one push of bytes brought."""
        if output.verdicts is not None:
            self._verdicts = output.verdicts
        self._anew = self._anew or output.anew
        self._guarded(self._seen(output))

    def tick(self, at_utc_s: float, recording: str = "", room_s: float | None = None) -> None:
        """Time passes. Call it twice a second. `at_utc_s`: the rig's time; `recording`: why nothing is recorded, or
        ""; `room_s`: for how long there is room for samples, None: not known."""
        self._guarded([Seen(self._utc_s(), at_utc_s, recording=recording, room_s=room_s, tested=self._tested)])
        learning = any(its.series for its in self._state.watching.values())
        since_s = self._utc_s() - self._kept_s
        if (learning and since_s >= KEEP_S) or (since_s >= SOON_S and _counted(self._state) != self._kept):
            self._unkept = True

    def act(self, act: Act) -> bool:
        """What a person does with an alarm; False: there is none of that name to do it with."""
        self._state, notices = acted(self._state, self._rules, self.rig, act)
        self._told(notices)
        return bool(notices)

    def end(self, why: str) -> None:
        """The rig is no more: what stands ends, and its file goes."""
        teller = Teller(self.rig, self._state.number, self._utc_s())
        for its in self._state.watching.values():
            over(its, teller, why)
        self._state = State(teller.number)
        self._told(teller.notices)
        if self._file is not None:
            self._file.unlink(missing_ok=True)
            self._file = None

    @property
    def unkept(self) -> bool:
        """Something has changed since it was written."""
        return self._unkept

    def write(self, last: bool = False) -> None:
        """To the disk, as a whole or not at all; what fails is tried again. `last`: the service ends."""
        counted = _counted(self._state)
        lasts = last and any(its.active for its in self._state.watching.values())
        if self._file is None or not (self._unkept or lasts or counted != self._kept):
            return
        self._unkept, self._kept_s, self._kept = False, self._utc_s(), counted
        try:
            self._file.parent.mkdir(parents=True, exist_ok=True)
            replace_file(self._file, kept_text(Kept(self._state, tuple(self.told))))
        except OSError as error:
            self._unkept = True
            self._fail("keeping", f"Alarms are not kept over a start of the service ({error.strerror}).", None)
        else:
            self._troubles.pop("keeping", None)

    @property
    def trouble(self) -> str:
        """What is wrong with the watching itself, in sentences; empty: nothing."""
        return " ".join(self._troubles.values())

    def standing(self) -> list[dict[str, object]]:
        """All alarms that are not over, as SOCKET.md has them."""
        return standing(self._state, self.rig)

    def as_now(self) -> list[Notice]:
        """All alarms that are not over, as a notice would tell them now, dated when they were last so. May be called by
        any thread; these are no notices of their own."""
        told = list[Notice]()
        for its in self._state.watching.values():
            if (life := its.life) is not None:
                teller = Teller(self.rig, 0, self._utc_s() if life.quiet_utc_s is None else life.quiet_utc_s)
                teller.tell(life, Told.AGAIN)
                told += teller.notices
        return told

    def record(self) -> dict[str, object]:
        """All there is to know, for a list."""
        return {
            "alarms": self.standing(),
            "watched": watched_records(self._rules, self._state),
            "told": [asdict(notice) for notice in reversed(self.told)],
            "trouble": self.trouble,
        }

    def _seen(self, output: Output) -> Iterator[Seen]:
        now_s, clock = self._utc_s(), output.clock
        if self._watches_coasts:
            for fast in output.fast:
                if fast.board_s.size:
                    board_s = float(fast.board_s[-1])
                    yield Seen(now_s, clock.utc_s(board_s), board_s, verdicts=self._verdicts, fast=fast)
        for instant in output.instants:
            readings = {reading.id: reading for reading in instant.readings}
            anew, self._anew = self._anew, False
            yield Seen(
                *(now_s, clock.utc_s(instant.board_s), instant.board_s, instant.interval_s, readings),
                verdicts=self._verdicts,
                anew=anew,
                rated_a=self._rated_a(),
            )
        if output.events:
            board_s = output.events[-1].board_s
            yield Seen(now_s, clock.utc_s(board_s), board_s, events=output.events, verdicts=self._verdicts)

    def _step(self, seen: Seen) -> None:
        self._state, notices = step(self._state, self._rules, self.rig, seen)
        self._told(notices)

    def _told(self, notices: list[Notice] | tuple[Notice, ...]) -> None:
        for notice in notices:
            self._unkept = True
            full = replace(
                notice,
                receivers=receivers_of(self._calling, notice.rank),
                not_before_utc_s=waits_until_utc_s(self._calling, notice.rank, notice.at_utc_s),
                run=self._run() or next((each.run for each in self.told if each.id == notice.id), ""),
                motor=self._motor(),
            )
            self.told.append(full)
            try:
                self._tell(full)
            except Exception as error:  # who sends it on must not keep the next one from being told
                self._fail("sending", "An alarm could not be sent on.", error)
            else:
                self._troubles.pop("sending", None)

    def _guarded(self, looks: Iterable[Seen]) -> None:
        try:
            for seen in looks:
                self._step(seen)
        except Exception as error:  # ours, whatever it is: bytes are recorded and shown all the same
            self._fail(
                "watching", "Alarms are not watched, by a mistake of Slipring's; its terminal tells more.", error
            )
        else:
            self._troubles.pop("watching", None)

    def _fail(self, of: str, trouble: str, error: Exception | None) -> None:
        """Logged once, as long as it lasts."""
        if self._troubles.get(of) != trouble:
            log.error("%s: %s", self.rig, trouble, exc_info=error)
        self._troubles[of] = trouble


def _counted(state: State) -> tuple[bool, int, int, int]:
    """What changes and is not told: whether the motor is on, how often what stands, or is shelved, came again, how warm
    it is, in tenths of what trips a relay, and for how long it has been so."""
    its = state.watching.values()
    more = sum(each.life.more for each in its if each.life is not None)
    more += sum(each.shelf.missed for each in its if each.shelf is not None)
    heat, lasted = sum(round(0.1 * each.heat.percent) for each in its), sum(int(each.so_s // LASTED_S) for each in its)
    return state.run_state in ON, more, heat, lasted
