"""The life of an alarm: raised, acknowledged, ended, shelved. Records of what is known between two looks."""

from collections.abc import Mapping
from dataclasses import dataclass, field

from server.alarms.coasting import Coast
from server.alarms.heat import Heat
from server.alarms.notice import Rank
from server.alarms.series import Series

LOOK_WHY = "Look why it came"  # what is over needs no switching off any more
NOT_WATCHED = "is not watched any more."  # ends the reason of what may still be so


@dataclass(frozen=True, slots=True)
class Acknowledged:
    """When, what was noted, on which device."""

    at_utc_s: float
    note: str = ""
    by: str = ""


@dataclass(frozen=True, slots=True)
class Life:
    """One alarm since it was raised. It is over when it has ended and was acknowledged.

    `why`, `value`, `limit`: as it is now, or was when it ended; `was`: why it was so, said of what is over. `unknown`:
    why it can't be told now whether it is still so. `more`: so many like it were folded into it, the first, of the id
    `first_id`, raised at `first_utc_s` (empty, None: none before it), `so_s`: how long it was so in all of them, seen
    by windows. `name`: of its rule.

    `quiet_utc_s`: since when it has not been so (None: it is so); `held_until_utc_s`: it keeps coming, and stands until
    then all the same.
    """

    id: str
    rank: Rank
    act: str
    raised_utc_s: float
    why: str
    reading: str = ""
    value: str = ""
    limit: str = ""
    unknown: str = ""
    more: int = 0
    acknowledged: Acknowledged | None = None
    ended_utc_s: float | None = None
    was: str = ""
    first_utc_s: float | None = None
    first_id: str = ""
    name: str = ""
    so_s: float = 0.0
    quiet_utc_s: float | None = None
    held_until_utc_s: float | None = None

    @property
    def first(self) -> str:
        """What to do first now. One that a person ended or that nobody watches any more may still be so."""
        ended = self.ended_utc_s is not None and self.quiet_utc_s is not None
        return LOOK_WHY if ended or self.held_until_utc_s is not None else self.act

    @property
    def said(self) -> str:
        """Why, in the tense that is true now."""
        over = self.quiet_utc_s is not None or self.ended_utc_s is not None
        return self.was if over and self.was else self.why


@dataclass(frozen=True, slots=True)
class Shelf:
    """Not told of until then, and why. `missed`: how often it happened meanwhile."""

    until_utc_s: float
    reason: str
    by: str = ""
    missed: int = 0
    id: str = ""  # under which it was told


@dataclass(frozen=True, slots=True)
class Watching:
    """One rule between two looks. `active`: it is so. `since_s`: since when the contrary was seen, `last_s`: until
    when; both by the clock that the rule is judged by. `came_s`: when it came before, `again_s`: when it was last told
    that it keeps coming, both by the service's awake time. `was`, `so_s`: as in `Life`, of the one that may come."""

    active: bool = False
    why: tuple[str, str, str] = ("", "", "")  # why, value, limit as last judged so
    since_s: float | None = None
    last_s: float | None = None
    came_s: tuple[float, ...] = ()
    again_s: float | None = None
    was: str = ""
    so_s: float = 0.0
    life: Life | None = None
    shelf: Shelf | None = None
    series: tuple[Series, ...] = ()
    coast: Coast = field(default_factory=Coast)
    heat: Heat = field(default_factory=Heat)


@dataclass(frozen=True, slots=True)
class State:
    """All of a rig's. `number`: of the next notice. `awake_s`: how long this service has looked, without the time that
    it was stopped or the PC slept; `heard_s`: by it, when samples last came. `warmth`: the last good temperatures, and
    until when, by it, they hold."""

    number: int
    watching: dict[str, Watching] = field(default_factory=dict)
    awake_s: float = 0.0
    now_s: float | None = None
    heard_s: float | None = None
    run_state: str = ""
    warmth: Mapping[str, tuple[float, float]] = field(default_factory=dict)
