"""Windows as an alarm sees them, one behind the other, and what came of them."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

from server.alarms.engine import Act, acted, step
from server.alarms.life import Life, State
from server.alarms.notice import Notice, Told
from server.alarms.rule import Rule, rules_of
from server.alarms.seen import PlanOutcome, Seen
from server.config import AlarmSettings
from server.readings import Confidence, Event, Reading
from server.verdict import Verdict

UTC_S = 1_795_600_000.0  # some moment
WINDOW_S = 0.2
OFF = tuple(AlarmSettings(name, "off") for name in ("stalled", "board_gone", "recording_failed", "disk_nearly_full"))
OVER = AlarmSettings("over", "alarm", "Switch off", "current_rms_a", high=3.0, return_gap=0.5, hold_s=1.0)


def amps(value: float) -> Reading:
    return Reading("current_rms_a", value)


def doubtful_amps(value: float) -> Reading:
    return Reading("current_rms_a", value, Confidence.DOUBTFUL, "samples are missing")


def no_amps() -> Reading:
    return Reading("current_rms_a", None, Confidence.ABSENT, "no current channel")


def state(word: str) -> Reading:
    return Reading("run_state", word)


def only(*alarms: AlarmSettings) -> tuple[Rule, ...]:
    """These alone, without the ready ones."""
    names = {its.name for its in alarms}
    return rules_of([*(its for its in OFF if its.name not in names), *alarms])


@dataclass
class Bench:
    """A rig whose alarms are watched. `now_s` is the service's clock, `board_s` the board's."""

    rules: Sequence[Rule]
    state: State = field(default_factory=lambda: State(1))
    notices: list[Notice] = field(default_factory=list)
    now_s: float = 100.0
    board_s: float = 10.0

    def see(self, *readings: Reading, seconds: float = WINDOW_S, **seen: object) -> None:
        """Windows with these readings for so long."""
        for _ in range(round(seconds / WINDOW_S)):
            self.now_s, self.board_s = self.now_s + WINDOW_S, self.board_s + WINDOW_S
            self._step(Seen(self.now_s, self.utc_s, self.board_s, 0.2, {its.id: its for its in readings}, **seen))  # type: ignore[arg-type]

    def happen(self, *events: Event) -> None:
        self._step(Seen(self.now_s, self.utc_s, self.board_s, events=events))

    def conclude(self, *verdicts: Verdict, seconds: float = WINDOW_S) -> None:
        self.see(amps(1.0), seconds=seconds, verdicts=verdicts)

    def wait(
        self,
        seconds: float,
        recording: str = "",
        tick_s: float = 0.5,
        tested: PlanOutcome | None = None,
        room_s: float | None = None,
    ) -> None:
        """Time passes and nothing comes."""
        for _ in range(round(seconds / tick_s)):
            self.now_s += tick_s
            self._step(Seen(self.now_s, self.utc_s, recording=recording, room_s=room_s, tested=tested))

    def act(self, what: str, name: str, note: str = "", by: str = "", for_s: float = 0.0) -> None:
        act = Act(what, name, self.utc_s, note, by, self.utc_s + for_s)
        self.state, told = acted(self.state, self.rules, "bench", act)
        self.notices += told

    @property
    def utc_s(self) -> float:
        return UTC_S + self.now_s

    def life(self, name: str) -> Life | None:
        its = self.state.watching.get(name)
        return None if its is None else its.life

    @property
    def told(self) -> list[Told]:
        return [notice.kind for notice in self.notices]

    def _step(self, seen: Seen) -> None:
        self.state, told = step(self.state, self.rules, "bench", seen)
        self.notices += told


def kinds(notices: Iterable[Notice], alarm_id: str) -> list[Told]:
    """What became of one alarm, in order."""
    return [notice.kind for notice in notices if notice.id == alarm_id]
