"""GET: the spectrum of a rig's current and its harmonics, made when a page asks. Changes nothing."""

from typing import Annotated

from fastapi import APIRouter, Query
from pydantic import BaseModel

from server.live.spectrum import COLUMNS_MAX, spectrum_record
from server.live.view import View
from server.motors import motor_type, predicted_lines
from server.quantities import HARMONIC_LISTS
from server.quantities.analysis import ORDERS
from server.quantities.class_a import class_a_limit_a
from server.rigs import Rigs
from server.web.models import ReadingOut
from server.web.permissions import LOOK
from server.web.reading_api import NOT_FOUND, known_view

_NOTHING = {"role": "", "place": "", "unit": "", "reason": "no voltage or current is sampled fast enough"}
_HARMONICS = HARMONIC_LISTS | {"current_harmonics_a"}
_STEADY = ("running", "unknown", "")  # elsewhere speed and supply change within the second, and lines with them
_FREQUENCIES = ("frequency_hz", "current_frequency_hz", "electrical_frequency_hz")


class MarkOut(BaseModel):
    """A frequency where this motor may have a line. rms: what stands there; stands_out: more than its neighbours."""

    hz: float
    sign: str
    name: str
    source: str
    rms: float
    stands_out: bool


LIMITS = (
    "Class A limits of IEC 61000-3-2, for information only: this is no compliance test. From memory and from a printed "
    "test report; check them against the current edition."
)


class HarmonicsOut(BaseModel):
    """readings: lists by order, as in the picture; limits_a: of the current, by order from 1, null where none is."""

    rig: str
    readings: dict[str, ReadingOut]
    limits_a: list[float | None]
    limits: str


class SpectrumOut(BaseModel):
    """rms: of a sine at equal steps from 0 to to_hz, each the highest line of its step, in `unit`; lines nearer than
    resolution_hz run into one. reason: why there is none. fundamental_rms is null without alternating current."""

    rig: str
    role: str
    place: str
    unit: str
    reason: str
    to_hz: float = 0.0
    resolution_hz: float = 0.0
    fundamental_rms: float | None = None
    rms: list[float] = []
    marks: list[MarkOut] = []


def spectrum_routes(rigs: Rigs) -> APIRouter:
    """The routes of this file."""
    routes = APIRouter(prefix="/api")

    @routes.get(
        "/rigs/{name}/spectrum", response_model=SpectrumOut, responses=NOT_FOUND, tags=["rigs"], openapi_extra=LOOK
    )
    async def spectrum(
        name: str,
        to_hz: Annotated[float, Query(gt=0.0, le=1e7)] = 1000.0,
        columns: Annotated[int, Query(ge=10, le=COLUMNS_MAX)] = 600,
    ) -> object:
        """Of the newest second of the main current (without one: of the voltage), begun anew where the motor is
        switched or reversed, with the lines that its motor's type, plate, supply and speed predict."""
        return spectrum_answer(known_view(rigs, name), to_hz, columns)

    @routes.get(
        "/rigs/{name}/harmonics",
        response_model=HarmonicsOut,
        response_model_exclude_unset=True,
        responses=NOT_FOUND,
        tags=["rigs"],
        openapi_extra=LOOK,
    )
    async def harmonics(name: str) -> object:
        """All lists of harmonics, order by order, made once a second; and limits to look along."""
        view = known_view(rigs, name)
        readings = view.readings(rigs.utc_s()).items()
        return {
            "rig": view.name,
            "readings": {each: its for each, its in readings if each.partition(".")[0] in _HARMONICS},
            "limits_a": [class_a_limit_a(order) for order in range(1, ORDERS + 1)],
            "limits": LIMITS,
        }

    return routes


def spectrum_answer(view: View, to_hz: float, columns: int) -> dict[str, object]:
    """The answer for one view; what it does not know predicts nothing, nor a second in which the motor changed."""
    lines = view.lines
    line = lines.current or lines.voltage
    if line is None:
        return {"rig": view.name, **_NOTHING}
    hertz = next((found for key in _FREQUENCIES if (found := view.latest.number(key))), None)
    to_hz = min(to_hz, line.ring.rate_hz / 2)
    rpm = view.latest.number("speed_rpm")
    steady = view.latest.word("run_state") in _STEADY
    predicted = predicted_lines(motor_type(view.motor.type), view.motor.plate, hertz, rpm, to_hz) if steady else ()
    return {"rig": view.name, **spectrum_record(line, to_hz, columns, predicted, hertz, view.steadiness)}
