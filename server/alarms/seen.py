"""What an alarm is judged by: one window of samples, or that time has passed without one. Records only."""

from collections.abc import Mapping
from dataclasses import dataclass, field

from server.readings import Event, Fast, Reading
from server.verdict import Verdict


@dataclass(frozen=True, slots=True)
class PlanOutcome:
    """How the test plan of a rig stands: `outcome` pass, fail, unknown (its goals are reached, and too much is not
    known) or undecided, and a sentence why. `waits`: a run of it is not read yet, and may change all but a failure."""

    outcome: str
    why: str
    waits: bool = False


@dataclass(frozen=True, slots=True)
class Seen:
    """`now_s`: a clock that never steps; `at_utc_s`: the moment in UTC that is told. `board_s`: end of the window in
    board time, None where only time has passed: then `recording` says why nothing is recorded, or "", and
    `room_s` for how long there is room for samples, None: nothing is recorded, or nobody has looked. `readings` by
    their id, the next ones come within `interval_s`. `verdicts`: all that stand now. `anew`: board time begins
    again. `rated_a`: the current on the plate of the motor, None: not known. `tested`: None where there is no plan, or
    nobody has looked yet."""

    now_s: float
    at_utc_s: float
    board_s: float | None = None
    interval_s: float = 0.0
    readings: Mapping[str, Reading] = field(default_factory=dict)
    events: tuple[Event, ...] = ()
    verdicts: tuple[Verdict, ...] = ()
    fast: Fast | None = None
    anew: bool = False
    recording: str = ""
    room_s: float | None = None
    rated_a: float | None = None
    tested: PlanOutcome | None = None
