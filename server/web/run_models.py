"""Shapes of what goes in and out about recorded runs."""

from typing import Annotated

from pydantic import BaseModel, Field

from server.calibration.chosen import Which
from server.runs.beside import NOTE_MAX, TAG_MAX, TAGS_MAX
from server.web.models import EventOut
from server.web.settings_models import Line, Lines, Number, Strict


class StartOut(BaseModel):
    """The current of the first start: rows of step_s from power on; null where none came."""

    utc_s: float
    step_s: float
    current_a: list[Number]


class OverviewOut(BaseModel):
    """The current from end to end: lowest and highest of each column; null where none came."""

    from_utc_s: float
    column_s: float
    low: list[Number]
    high: list[Number]


class RunOut(BaseModel):
    """One recorded run. closed_utc_s null: it is open, or was when the service ended; recording: it is recorded now;
    silent_since_utc_s: since when no samples come into it, null: they come, or it is not recorded; reason: why it
    closed; happened: a few phrases; kinds: of its events, and "alarm"; missing_s: time without samples; start null:
    none is known; summed_up false: what is costly to know of it is not known yet; summing_up_share: how far that is, or
    its log that must be made again, from 0 to 1, null: nothing is at work on it; trouble: what cannot be read of it,
    or empty."""

    name: str
    rig: str
    serial: str
    opened_utc_s: float
    closed_utc_s: Number
    reason: str
    recording: bool
    silent_since_utc_s: Number
    length_s: Number
    bytes: int | None
    motor: str
    type: str
    source: str
    happened: list[str]
    kinds: list[str]
    events_count: int
    missing_s: float
    note: str
    tags: list[str]
    start: StartOut | None
    summed_up: bool
    summing_up_share: Number
    trouble: str


class AccountOut(BaseModel):
    """What one counter of the board promised in a run (what: samples of a group, single samples of a channel, edges;
    number: of the group or channel), how many are stored, and why others are missing. exact false: the sum is wrong.
    again: came twice and counts once; starts_anew: how often the board began to count anew, before which what it
    measured last is not known; words: the same as a sentence."""

    what: str
    number: int
    channels: list[str]
    promised: int
    stored: int
    missing: dict[str, int]
    again: int
    starts_anew: int
    exact: bool
    words: str


class WholeRunOut(RunOut):
    """One run with all that is kept of it in short; gaps: from and to, where its board or the service was gone;
    account: every sample of it, stored or missing for a reason, so far where it is recorded now; counted_from_utc_s:
    the service took that run up again then, and counts from there on; thinned: what was given up for room, or empty."""

    events: list[EventOut]
    gaps: list[tuple[float, float]]
    overview: OverviewOut | None
    troubles: list[str]
    account: list[AccountOut]
    counted_from_utc_s: Number
    thinned: str


class DeletedOut(BaseModel):
    """A deleted run, and when it will be removed for good."""

    name: str
    rig: str
    opened_utc_s: float
    closed_utc_s: Number
    deleted_utc_s: float
    removed_utc_s: float


class NoteIn(Strict):
    """A person's words about a run; empty takes them away."""

    note: Lines = Field(max_length=NOTE_MAX)


class TagsIn(Strict):
    """A person's tags of a run, all of them; what is left out is taken away."""

    tags: list[Annotated[Line, Field(max_length=TAG_MAX)]] = Field(max_length=TAGS_MAX)


class EmptyIn(Strict):
    """Which deleted run to remove for good; empty: all."""

    run: str = Field("", max_length=200)


class RunNamed(BaseModel):
    """The run that was changed, deleted or brought back."""

    run: str


class Emptied(BaseModel):
    """How many deleted runs were removed for good."""

    removed: int


class PlayIn(Strict):
    """Which run to play, and from where (null: from its beginning, or where it is already)."""

    run: str = Field(max_length=200)
    utc_s: float | None = Field(None, allow_inf_nan=False)


class PlayChange(Strict):
    """What to change of a play; what is left out stays. pace: seconds of the run in one of ours; calibration: which one
    all is computed with, that of the run (then), the one kept now, or none."""

    paused: bool | None = None
    pace: float | None = Field(None, ge=0.1, le=100.0)
    utc_s: float | None = Field(None, allow_inf_nan=False)
    calibration: Which | None = None


class PlayOut(BaseModel):
    """A run that is played; rig: its name in the live pictures. state: playing, paused, seeking or ended. calibrated:
    the calibration says something of a channel of the board. reached: its pace where this PC cannot keep `pace`.
    sought_utc_s: the place that it is on its way to, where it is."""

    rig: str
    run: str
    state: str
    pace: float
    at_utc_s: float
    from_utc_s: float
    to_utc_s: float
    trouble: str
    calibration: Which
    calibrated: bool
    reached: Number
    sought_utc_s: Number
