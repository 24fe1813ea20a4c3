"""Shapes of what goes in and out of a calibration over HTTP, for the API's own description."""

from typing import Literal

from pydantic import BaseModel, Field

from server.web.models import PartOut
from server.web.settings_models import TEXT_MAX, Line, Number, Strict

WhatWord = Literal["zero", "gain", "angle"]


class EntryOut(BaseModel):
    """One calibration of a channel. value: of a zero in the channel's unit, of a gain a factor, of an angle seconds of
    delay beside the board's stated one, right at frequency_hz; u95: half its 95 % interval. holds: it is used now."""

    what: str
    made_utc_s: float
    reference: str
    value: float
    u95: float
    frequency_hz: Number
    against: str
    undone_utc_s: Number
    holds: bool


class CalibratedChannel(BaseModel):
    """A channel, for each kind of calibration what holds in words, and all entries, the newest first."""

    channel: int
    role: str
    name: str
    place: str
    unit: str
    words: dict[str, str]
    entries: list[EntryOut]


class GuideOut(BaseModel):
    """What to do for a calibration: cautions come first, then the steps in turn."""

    about: str
    cautions: list[str]
    steps: list[str]


class LoadOut(BaseModel):
    """A kind of resistor for an angle; the most that its inductance over its resistance is, in seconds."""

    key: str
    words: str
    tau_max_s: float


class CalibrationOut(BaseModel):
    """How the board of a rig is calibrated. described: it has said what it measures; refusal: why its file cannot be
    used, or empty."""

    described: bool
    serial: str
    file: str
    refusal: str
    age_limit_days: Number
    channels: list[CalibratedChannel]
    guides: dict[str, GuideOut]
    loads: list[LoadOut]


class LookOut(BaseModel):
    """The live reading of the last pieces of 200 ms (of: so many are needed), scatter: the standard deviation of one.

    refusal: why it is not fit for this calibration now, or empty."""

    pieces: int
    of: int
    mean: Number
    rms: Number
    scatter: Number
    lead_deg: Number
    hertz: Number
    unit: str
    refusal: str


class MeasureIn(Strict):
    """What to measure. channel, against: the numbers of channels; an angle needs against (a voltage) and load, a gain
    reference (what the meter reads), uncertainty (in the same unit) and whether that is a limit or a 95 % interval."""

    what: WhatWord
    channel: int
    against: int | None = None
    load: str = Field("", max_length=TEXT_MAX)
    reference: float | None = None
    uncertainty: float | None = None
    is_limit: bool = True
    words: Line = Field("", max_length=120, description="against what: the meter, its last calibration")


class MeasuredOut(BaseModel):
    """What a calibration would change. before, after: the reading and half its 95 % interval (null: not known); wanted:
    the reference. Of an angle these are degrees by which the current leads."""

    what: str
    unit: str
    change: float
    before: float
    before_u95: Number
    after: float
    after_u95: Number
    wanted: float
    wanted_u95: Number
    frequency_hz: Number
    parts: list[PartOut]


class UndoIn(Strict):
    """Which calibration to take back: the newest of this kind that holds."""

    what: WhatWord
    channel: int
