"""Shapes of test plans, their judgement and the cycles of a run over HTTP."""

from typing import Any, Literal

from pydantic import BaseModel, Field

from server.settings.tables import TEXT_MAX as PLAN_MAX
from server.web.settings_models import Number, Strict


class PlanIn(Strict):
    """A plan: its text as in PLAN.md, or its tables and their keys, which become such a text. One of the two."""

    text: str | None = Field(None, max_length=PLAN_MAX)
    tables: dict[str, dict[str, Any]] | None = Field(None, description="test, duty, readings, cycles, events, verdicts")


class PlanOut(BaseModel):
    """The plan of a rig: its text, its tables, and the file it stands in; text and tables null where there is none.
    Where what stands in the file cannot be used, `refused` says why and tables are null; text is what stands there, if
    it can be read. `ended`: the run that was ended as the plan was set, since it would not have counted; or empty."""

    rig: str
    file: str
    text: str | None
    tables: dict[str, Any] | None
    refused: str
    ended: str = ""


class FigureOut(BaseModel):
    """A number that may be unknown: ± of 95 %, "at least" or "at most", and the reason for what is missing of it."""

    value: Number
    u95: Number
    bound: Literal["", "at least", "at most"]
    reason: str


class FailureOut(BaseModel):
    """A limit that was passed: of what, in words, in which run and when; cycle: its number in the run, or null."""

    key: str
    text: str
    run: str
    utc_s: float
    cycle: int | None


class LeftOut(BaseModel):
    """What is left: seconds of watched time ± u95, or the reason why that is not known; of the goals; by what."""

    seconds: Number
    u95: Number
    reason: str
    cycles: int | None
    hours: Number
    by: str


class DutyTypeOut(BaseModel):
    """S1 to S5 of IEC 60034-1 with what it rests on, or no name and what is missing of each."""

    name: str
    words: str
    missing: list[str]


class EquilibriumOut(BaseModel):
    """When thermal equilibrium was reached (UTC), or null and what is missing; the newest two half hours' changes."""

    since_s: Number
    missing: str
    changes_k: list[float]
    at_c: Number


class DriftOut(BaseModel):
    """How a figure changes from cycle to cycle, between low95 and high95; chance: how often it comes of nothing."""

    key: str
    label: str
    unit: str
    per_cycle: float
    low95: float
    high95: float
    chance: float
    cycles: int
    significant: bool


class DutyOut(BaseModel):
    """How the motor was used; cycles_whole: known from their start to the next. drifts: of figures that have enough."""

    duty_factor_percent: FigureOut
    starts_per_hour: FigureOut
    cycles_whole: int
    duty_type: DutyTypeOut
    drifts: list[DriftOut]


class JudgementOut(DutyOut):
    """Pass, fail or undecided, and why. cycles, hours: counted, at least; unknown: what nobody can say; unknown_s: of
    watched_s without samples; hidden_s: of that, where a start or stop may lie; failures: the first ones;
    passed_utc_s: when it had passed, which what is unknown later leaves as it is."""

    rig: str
    outcome: Literal["pass", "fail", "undecided"]
    reasons: list[str]
    unknown: list[str]
    passed_utc_s: float | None
    failures: list[FailureOut]
    failures_count: int
    cycles: int
    hours: float
    watched_s: float
    unknown_s: float
    hidden_s: float
    left: LeftOut
    equilibrium: EquilibriumOut | None


class CycleOut(BaseModel):
    """One cycle; begun: seen, unseen (off, then on) or before (it was on when first looked at, and counts as none)."""

    number: int
    utc_s: float
    begun: Literal["seen", "unseen", "before"]
    ended: bool
    figures: dict[str, FigureOut]
    doubts: list[str]
    hidden_s: float
    stalls: int
    reversals: int
    braked: bool


class FigureKindOut(BaseModel):
    """What a figure of a cycle is."""

    key: str
    label: str
    unit: str
    digits: int
    definition: str


class CyclesOut(DutyOut):
    """The cycles of a run: counts of all; the first 500 and newest 500 with their figures, then the one under way, or
    the `newest` of these. What is said of all of them rests on those that are kept; missing: what of the run is in
    neither counts nor figures, or in counts alone, a sentence each."""

    run: str
    starts: int
    on_s: float
    hidden_s: float
    kinds: list[FigureKindOut]
    cycles: list[CycleOut]
    missing: list[str]
