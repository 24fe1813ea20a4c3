"""What is told of an alarm, to whoever sends it on, keeps it or shows it. Records only.

Two ranks and no more: of the many kinds that a plant may have, a bench needs "act now" and "look soon" (ISA-18.2 and
EEMUA 191 ask for few ranks, each with an act; from memory).
"""

from dataclasses import dataclass
from enum import StrEnum


class Rank(StrEnum):
    """How soon a person must do something."""

    ALARM = "alarm"  # act now
    CAUTION = "caution"  # look soon


class Told(StrEnum):
    """What became of an alarm."""

    RAISED = "raised"
    ACKNOWLEDGED = "acknowledged"
    ENDED = "ended"
    SHELVED = "shelved"
    UNSHELVED = "unshelved"
    AGAIN = "again"  # it keeps coming, and is folded into the one that stands


@dataclass(frozen=True, slots=True)
class Notice:
    """One change in the life of one alarm.

    `number` counts the notices of a rig and is never used twice, so that what is sent can be sent once. `id` is the
    same for all of one alarm, from raised to ended; unique among all rigs. `act`: what to do first; `why`: a sentence.
    `reading`: id of the reading, empty where it is none; `value`, `limit`: with unit, as a person reads them, empty
    likewise. `note`, `by`: of who acknowledged or shelved it, on which device. `more`: so many alarms of the same rule
    were folded into this one, the first of them, of the id `first_id`, raised at `first_utc_s` (empty, None: none
    before it); `so_s`: how long it was so in all. `receivers`: names from the settings of whom to call;
    `not_before_utc_s`: it came in the quiet hours and waits until then, None: it is for now. `run`: that was being
    recorded, or else in which it was raised, or empty; `motor`: its name. `name`: of the rule, empty of older ones.
    """

    number: int
    id: str
    rig: str
    kind: Told
    rank: Rank
    at_utc_s: float
    act: str
    why: str
    reading: str = ""
    value: str = ""
    limit: str = ""
    note: str = ""
    by: str = ""
    more: int = 0
    receivers: tuple[str, ...] = ()
    not_before_utc_s: float | None = None
    run: str = ""
    first_utc_s: float | None = None
    so_s: float = 0.0
    first_id: str = ""
    motor: str = ""
    name: str = ""

    @property
    def story(self) -> str:
        """The same for all alarms that were folded into one."""
        return self.first_id or self.id
