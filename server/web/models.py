"""Shapes of what goes in and out over HTTP, for the API's own description. Fields are those of SOCKET.md."""

from typing import Literal

from pydantic import BaseModel, Field

from server.web.settings_models import TEXT_MAX, Number, PlateOut, SettingsOut, Strict


class Problem(BaseModel):
    """Every error: a sentence for the person. key: which setting it is about, such as motor.plate.speed_rpm."""

    detail: str
    key: str = ""


class RigLine(BaseModel):
    """One rig of the list, worst first. rank: 0 nothing, 1 caution, 2 alarm; demo_motor: the one of the demo bench that
    the service runs for it, or empty; demo_story: the story that it plays, empty: all in turn; demo_pace: how fast;
    playing: the recorded run that is played, or empty."""

    name: str
    motor: str
    demo_motor: str
    demo_story: str
    demo_pace: float
    state: str
    connection: str
    rank: int
    tag: str
    playing: str


class MotorOut(BaseModel):
    """The motor as it is shown; plate_source: board, settings or empty."""

    name: str
    type: str
    plate: PlateOut
    plate_source: str


class ConnectionOut(BaseModel):
    """Where the chain from motor to service ends."""

    state: str
    text: str
    detail: str
    since_utc_s: Number
    port: str
    retry_s: Number
    file: str


class RecordingOut(BaseModel):
    """What becomes of the bytes."""

    state: str
    since_utc_s: Number
    gap_since_utc_s: Number
    run: str
    reason: str
    gaps_s: float
    free_bytes: int | None
    lost_utc_s: float | None
    room_s: Number


class RigOut(BaseModel):
    """One rig. file: its settings file, empty where nothing is kept; refusal: why that cannot be used, or empty;
    undo: whether a file before the last change is kept; board is null until it has described itself."""

    name: str
    demo: bool
    file: str
    refusal: str
    undo: bool
    settings: SettingsOut
    motor: MotorOut
    connection: ConnectionOut
    recording: RecordingOut
    board: dict[str, object] | None
    damage: dict[str, object]


class ReadingOut(BaseModel):
    """confidence: good, doubtful or absent; aged: empty, stale or absent. Doubtful and absent ones have a reason.

    u95: half the width of the interval that holds the true value in 95 % of cases, where that is known; low95, high95:
    its ends, where a bound of the quantity cuts it."""

    value: float | int | str | list[float] | None
    confidence: str
    reason: str
    at_utc_s: float
    aged: str
    u95: float | list[float] | None = None
    low95: float | None = None
    high95: float | None = None


class PartOut(BaseModel):
    """One source of uncertainty, and the standard uncertainty that it gives to the reading, in the reading's unit."""

    source: str
    standard: float


class ReadingsOut(BaseModel):
    """All readings of a rig by their ids, each with its own moment."""

    rig: str
    now_utc_s: float
    sample_utc_s: Number
    state_since_utc_s: Number
    readings: dict[str, ReadingOut]


class EventOut(BaseModel):
    """Something that happened; decisive ones decide what the motor is or has."""

    kind: str
    text: str
    detail: str
    decisive: bool
    utc_s: float


class MotorTypeOut(BaseModel):
    """A type of motor that is known; supply: what feeds it where its main voltage is measured."""

    type: str
    label: str
    supply: Literal["alternating", "direct"]


class QuantityOut(BaseModel):
    """One quantity of the catalogue: what its key means, where its definition comes from, what the board must measure
    for it, and the types of motors for which it makes sense (none named: all)."""

    key: str
    symbol: str
    label: str
    unit: str
    digits: int
    definition: str
    source: str
    needs: str
    motors: list[str]


class BudgetOut(BaseModel):
    """What a reading is and what it may be off by: u95 is coverage_factor times the root of the parts' summed squares.

    window_s: how long the window is that it was computed from; no parts: its uncertainty is not known, and why_not says
    why, as far as it can be told."""

    id: str
    quantity: QuantityOut
    window_s: float
    at_utc_s: float
    coverage_factor: Number
    parts: list[PartOut]
    why_not: str


class PortOut(BaseModel):
    """A serial port of this PC and what it said; usable false where asking it is no use, board where one answered."""

    port: str
    says: str
    usable: bool
    board: bool


class DemoStoryOut(BaseModel):
    """A story of a demo motor: what happens in it, and how long it lasts."""

    name: str
    says: str
    lasts_s: float


class DemoPlayedOut(BaseModel):
    """A rig where a demo motor runs now; story empty: all in turn; pace: seconds of the board in one of ours."""

    rig: str
    story: str
    pace: float


class DemoMotorOut(BaseModel):
    """A motor of the demo bench, its stories, and where it runs; type: its motor type."""

    motor: str
    name: str
    about: str
    type: str
    stories: list[DemoStoryOut]
    running: list[DemoPlayedOut]


class AskPort(Strict):
    """Which port to ask who is there."""

    port: str = Field(min_length=1, max_length=TEXT_MAX, description="a device or socket://HOST:PORT")


class StartDemo(Strict):
    """Which motor to start; story empty: all in turn; pace: seconds of the board in one of ours."""

    motor: str = Field(max_length=TEXT_MAX)
    story: str = Field("", max_length=TEXT_MAX)
    pace: float = Field(1.0, ge=0.01, le=20.0)


class StopDemo(Strict):
    """Which rig to stop."""

    rig: str = Field(max_length=TEXT_MAX)


class RunAction(Strict):
    """What to do with the run."""

    action: Literal["end"]


class RunEnded(BaseModel):
    """The rig, and which of its runs was ended; null: none was being recorded, or its folder was not made yet."""

    rig: str
    run: str | None


class RigNamed(BaseModel):
    """The rig that was made, changed or removed."""

    rig: str
