"""GET: the spectrum of a rig's current and its harmonics, made when a page asks. Changes nothing."""

from typing import Annotated

from fastapi import APIRouter, Query
from pydantic import BaseModel

from server.live.spectrum import COLUMNS_MAX, spectrum_record
from server.live.view import View
from server.motors import motor_type, predicted_lines
from server.rigs import Rigs
from server.web.reading_api import NOT_FOUND, known_rig

_NOTHING = {"role": "", "place": "", "unit": "", "reason": "no voltage or current is sampled fast enough"}
_FREQUENCIES = ("frequency_hz", "current_frequency_hz", "electrical_frequency_hz")


class MarkOut(BaseModel):
    """A frequency where this motor may have a line. rms: what stands there; stands_out: more than its neighbours."""

    hz: float
    sign: str
    name: str
    source: str
    rms: float
    stands_out: bool


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

    @routes.get("/rigs/{name}/spectrum", response_model=SpectrumOut, responses=NOT_FOUND, tags=["rigs"])
    async def spectrum(
        name: str,
        to_hz: Annotated[float, Query(gt=0.0, le=1e7)] = 1000.0,
        columns: Annotated[int, Query(ge=10, le=COLUMNS_MAX)] = 600,
    ) -> object:
        """Of the newest second of the main current (without one: of the voltage), with the lines that its motor's type,
        plate, supply and speed predict."""
        return spectrum_answer(known_rig(rigs, name).view, to_hz, columns)

    return routes


def spectrum_answer(view: View, to_hz: float, columns: int) -> dict[str, object]:
    """The answer for one view; what it does not know predicts nothing."""
    lines = view.lines
    line = lines.current or lines.voltage
    if line is None:
        return {"rig": view.name, **_NOTHING}
    hertz = next((found for key in _FREQUENCIES if (found := view.latest.number(key))), None)
    to_hz = min(to_hz, line.ring.rate_hz / 2)
    rpm = view.latest.number("speed_rpm")
    predicted = predicted_lines(motor_type(view.motor.type), view.motor.plate, hertz, rpm, to_hz)
    return {"rig": view.name, **spectrum_record(line, to_hz, columns, predicted, hertz)}
