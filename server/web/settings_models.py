"""Shapes of a rig's settings over HTTP, in and out. Whether they make sense is judged where they are written."""

from typing import Annotated, TypeAlias

from pydantic import AfterValidator, BaseModel, ConfigDict, Field
from pydantic_core import PydanticCustomError

from server.settings.plain import unprintable

Number = float | None
TEXT_MAX = 200


def in_lines(text: str) -> str:
    """Refuses what would break the page or a terminal; new lines do not."""
    return _checked(text, several_lines=True)


def in_a_line(text: str) -> str:
    """The same for a text of one line."""
    return _checked(text, several_lines=False)


def _checked(text: str, several_lines: bool) -> str:
    if odd := unprintable(text, several_lines):
        where = "in a text" if several_lines else "in a line"
        raise PydanticCustomError("unprintable", f"the character {odd} cannot be shown {where}; write plain text")
    return text


Lines: TypeAlias = Annotated[str, AfterValidator(in_lines)]
Line: TypeAlias = Annotated[str, AfterValidator(in_a_line)]


class Strict(BaseModel):
    """What comes in: an unknown key is a mistake, not a wish to be ignored."""

    model_config = ConfigDict(extra="forbid")


class PlateOut(BaseModel):
    """What the motor's plate says; null where it is not known."""

    voltage_v: Number = None
    frequency_hz: Number = None
    current_a: Number = None
    speed_rpm: Number = None
    pole_pairs: int | None = None
    power_w: Number = None
    run_capacitor_uf: Number = None
    locked_rotor_current_a: Number = None
    hall_spacing_deg: int = 120
    rotor_slots: int | None = None
    commutator_bars: int | None = None
    winding_resistance_ohm: float | None = None
    winding_resistance_c: float = 20.0
    back_emf_constant: float | None = None
    brush_drop_v: float | None = None


class PlateIn(PlateOut, Strict):
    """The same, from a person."""


class MotorIn(Strict):
    """The motor as a person says it is."""

    name: str = Field("", max_length=TEXT_MAX)
    type: str = Field("", max_length=TEXT_MAX)
    plate: PlateIn = PlateIn()


class ChannelIn(Strict):
    """What a channel is where the board's own word is wrong or missing; empty: as the board says."""

    role: str = Field("", max_length=TEXT_MAX)
    place: str = Field("", max_length=TEXT_MAX)


class LimitIn(Strict):
    """Between which values a reading should stay; null: no limit on that side."""

    low: Number = None
    high: Number = None


class AlarmIn(Strict):
    """An alarm of the person's own, or changes to a ready one of that name (SETTINGS.md); null or "": nothing said."""

    rank: str = Field("", max_length=TEXT_MAX, description="alarm, caution, off or empty")
    act: str = Field("", max_length=TEXT_MAX, description="what to do first")
    reading: str = Field("", max_length=TEXT_MAX)
    low: Number = None
    high: Number = None
    return_gap: Number = None
    hold_s: Number = None
    state: str = Field("", max_length=TEXT_MAX)
    event: str = Field("", max_length=TEXT_MAX)
    verdict: str = Field("", max_length=TEXT_MAX)
    no_samples_s: Number = None
    drift: str = Field("", max_length=TEXT_MAX)
    least_percent: Number = None
    trip_class: str = Field("", max_length=TEXT_MAX, description="of the ready alarm overloaded: 5, 10A, 10, 20 or 30")


class CallingIn(Strict):
    """Whom to call, names with commas between, and the quiet hours in which cautions wait."""

    alarm: str = Field("", max_length=TEXT_MAX)
    caution: str = Field("", max_length=TEXT_MAX)
    quiet_from: str = Field("", max_length=TEXT_MAX, description='local time of the PC, as "22:00"')
    quiet_to: str = Field("", max_length=TEXT_MAX)


class WiresIn(Strict):
    """What the wires on the Hall inputs and the leads are called; empty: not said."""

    hall_a: str = Field("", max_length=TEXT_MAX)
    hall_b: str = Field("", max_length=TEXT_MAX)
    hall_c: str = Field("", max_length=TEXT_MAX)
    lead_u: str = Field("", max_length=TEXT_MAX)
    lead_v: str = Field("", max_length=TEXT_MAX)
    lead_w: str = Field("", max_length=TEXT_MAX)


class SpaceIn(Strict):
    """What is given up of raw samples when room gets short; thin_raw empty: nothing."""

    thin_raw: str = Field("", max_length=TEXT_MAX, description='"agreed", or empty')
    around_s: float = Field(30.0, description="kept whole before and after each event and alarm")
    each_hour_s: float = Field(60.0, description="kept whole of each hour")


class SettingsIn(Strict):
    """Settings of a rig; what is left out stays as it is, null makes it what it is where nothing is said."""

    port: str | None = Field(None, max_length=TEXT_MAX, description="a device or socket://HOST:PORT")
    baud: int | None = None
    motor: MotorIn | None = None
    stopped_rpm: float | None = None
    start_time_limit_s: float | None = None
    rest_closes_run_s: float | None = None
    speed_unit: str | None = Field(None, max_length=TEXT_MAX, description="how speeds are shown: r/min or rad/s")
    channels: dict[str, ChannelIn] | None = Field(None, description="all of them, by name or index")
    limits: dict[str, LimitIn] | None = Field(None, description="all of them, by the id of the reading")
    wires: WiresIn | None = Field(None, description="all six")
    alarms: dict[str, AlarmIn] | None = Field(None, description="all of them, by name")
    calling: CallingIn | None = Field(None, description="all four")
    space: SpaceIn | None = Field(None, description="all three")


class ChangedSettings(SettingsIn):
    """The same of a rig that exists; with another name it is called so from now on."""

    name: str | None = Field(None, max_length=TEXT_MAX)


class NewRig(SettingsIn):
    """A new rig: its name and its settings."""

    name: str = Field(max_length=TEXT_MAX)


class SettingsOut(BaseModel):
    """Settings of a rig as they hold; motor is null where what the board says of it holds."""

    name: str
    port: str
    baud: int
    motor: dict[str, object] | None
    stopped_rpm: float
    start_time_limit_s: float
    rest_closes_run_s: float
    speed_unit: str
    channels: dict[str, ChannelIn]
    limits: dict[str, LimitIn]
    wires: WiresIn
    alarms: dict[str, AlarmIn]
    calling: CallingIn
    space: SpaceIn
