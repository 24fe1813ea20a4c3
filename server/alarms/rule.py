"""What raises an alarm, as it is watched: a person's settings and the ready rules, made one list. Pure."""

from collections.abc import Sequence
from dataclasses import dataclass, fields, replace
from enum import StrEnum

from server.alarms.notice import Rank
from server.alarms.ready import READY
from server.config import AlarmSettings

HOLD_S = 2.0  # ten windows: of a limit of which nothing is said (ours)
LEAST_PERCENT = 1.0  # of a drift, likewise
NO_ACT = "Look at the motor"


class Cause(StrEnum):
    """What kind of thing raises it."""

    LIMIT = "limit"
    STATE = "state"
    EVENT = "event"
    VERDICT = "verdict"
    SILENCE = "silence"
    RECORDING = "recording"
    ROOM = "room"
    DRIFT = "drift"
    OVERLOAD = "overload"
    PLAN = "plan"


LATCHED = (Cause.EVENT, Cause.DRIFT)  # they have no end of their own: they stand until somebody acknowledges them
# Judged as time passes, the others as windows come.
BY_CLOCK = (Cause.SILENCE, Cause.RECORDING, Cause.ROOM, Cause.PLAN)


@dataclass(frozen=True, slots=True)
class Rule:
    """One alarm that is watched. `its`: settings with nothing left open; `why`: what stands behind it, for a ready
    one."""

    name: str
    cause: Cause
    rank: Rank
    its: AlarmSettings
    why: str = ""

    @property
    def hold_s(self) -> float:
        return self.its.hold_s or 0.0


def cause_of(its: AlarmSettings) -> Cause | None:
    """What raises it; None where nothing does. One that says several is refused before (`contradictions.py`)."""
    if its.reading:
        return Cause.LIMIT
    for cause, said in ((Cause.EVENT, its.event), (Cause.VERDICT, its.verdict), (Cause.DRIFT, its.drift)):
        if said:
            return cause
    if its.no_samples_s is not None:
        return Cause.SILENCE
    return Cause.STATE if its.state else None


def merged(its: AlarmSettings) -> AlarmSettings:
    """What a person said, and what is open filled by the ready rule of that name."""
    ready = READY.get(its.name)
    if ready is None:
        return its
    said = {field.name: value for field in fields(its) if (value := getattr(its, field.name)) not in (None, "")}
    return replace(ready.usual, **said)


def rules_of(alarms: Sequence[AlarmSettings], planned: bool = False) -> tuple[Rule, ...]:
    """All that is watched: ready rules that are on without being asked for, with a test plan (`planned`) those of it
    too, then a person's; those of rank "off" not, and without a plan none of it."""
    said = {its.name: its for its in alarms}
    on = (ready for ready in READY.values() if ready.on or (planned and ready.cause == Cause.PLAN))
    usual = (ready.usual for ready in on if ready.usual.name not in said)
    found = (_rule(merged(its)) for its in (*usual, *alarms) if merged(its).rank != "off")
    return tuple(rule for rule in found if rule is not None and (planned or rule.cause is not Cause.PLAN))


def _rule(its: AlarmSettings) -> Rule | None:
    ready = READY.get(its.name)
    cause = Cause(ready.cause) if ready is not None and ready.cause else cause_of(its)
    if cause is None:
        return None
    hold_s = its.hold_s if its.hold_s is not None else HOLD_S if cause in (Cause.LIMIT, Cause.STATE) else 0.0
    least = its.least_percent if its.least_percent is not None else LEAST_PERCENT
    filled = replace(its, hold_s=hold_s, least_percent=least, act=its.act or NO_ACT)
    return Rule(its.name, cause, Rank(its.rank or Rank.CAUTION), filled, "" if ready is None else ready.why)
