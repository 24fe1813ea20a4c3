"""Views of a rig for the tests of this folder, and how their picture comes out on the page."""

from typing import Any

from server.config import Plate
from server.live.packing import pack
from server.live.records import Connection, ConnectionState, Shown
from server.live.view import View
from server.pipeline import Output
from server.readings import Instant, Reading
from tests.server.live.blocks import Sync, block, described, sines
from tests.server.live.unpack import unpack

ZERO = Sync().zero_utc_s


def instant(board_s: float, *readings: Reading, interval_s: float = 0.2) -> Instant:
    return Instant(0, round(board_s * 1e6), board_s, interval_s, readings)


def seen(view: View, now_s: float = 1.0, **wishes: Any) -> dict[str, Any]:
    """The picture as it comes out on the page at this board time."""
    return unpack(pack(view.picture(ZERO + now_s, **wishes)))


def ventilator(seconds: float = 1.0, **wave: float) -> View:
    view = View("heron-1")
    view.connection = Connection(ConnectionState.LIVE, since_utc_s=ZERO)
    view.motor = Shown("cabin ventilator", "permanent_split_capacitor", Plate(voltage_v=230.0), "board")
    view.take(Output(described=described(), samples=(block(sines(seconds, **wave)),), frames=10), Sync())
    frequency_hz = wave.get("frequency_hz", 50.0)
    readings = (Reading("frequency_hz", frequency_hz), Reading("phase_angle_deg", wave.get("lag_deg", 30.0)))
    view.take(Output(instants=(instant(seconds, *readings),)), Sync())
    return view
