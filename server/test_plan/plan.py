"""What is tested, for how long, and what means that it has failed. Records only."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Ends:
    """Between which values something must stay; None: no limit on that side. `state`: "running", only readings while
    the motor ran; "any", all of them; empty for figures of cycles."""

    key: str
    low: float | None = None
    high: float | None = None
    state: str = ""


@dataclass(frozen=True, slots=True)
class Most:
    """How often something may happen at most."""

    key: str
    most: int = 0


@dataclass(frozen=True, slots=True)
class Plan:
    """One test. A goal that is None is none; those that there are must all be reached.

    `specimen`, `serial`: what is tested and its number. `goal_hours`: of on-time; `goal_cycles`: starts; `heat_run`:
    the id of a temperature that must come to equilibrium. `begins`: runs that opened before do not count (UTC seconds).
    `unknown_percent`: of the time of its runs, how much may be unknown where it passes. `ambient`: the id of a
    temperature, `ambient_c`: one that a person read, where no channel does. `on_s`, `off_s`, `tolerance_percent`,
    `duty_type`: the duty that is expected.
    """

    specimen: str
    serial: str = ""
    goal_hours: float | None = None
    goal_cycles: int | None = None
    heat_run: str = ""
    begins: float | None = None
    unknown_percent: float = 1.0
    ambient: str = ""
    ambient_c: float | None = None
    on_s: float | None = None
    off_s: float | None = None
    tolerance_percent: float = 5.0
    duty_type: str = ""
    readings: tuple[Ends, ...] = ()
    cycles: tuple[Ends, ...] = ()
    events: tuple[Most, ...] = ()
    verdicts: tuple[Most, ...] = ()


@dataclass(frozen=True, slots=True)
class PlanText:
    """A plan as a person wrote it: the record, the text, and the file it stands in, or empty."""

    file: str
    plan: Plan
    text: str
