"""Catalogue entries of what the edges say; computed in `server.hall`."""

from server.quantities.quantity import Quantity

_TABLE = "six-step table of three Hall sensors"
_HALLED = ("brushless",)
SHAFT = (
    Quantity(
        *("speed_rpm", "n", "speed", "r/min", 0),
        *("60 x turns / their own time", "ISO 80000-3, 3-17 (from memory)", "Hall signals or a pulse sensor"),
    ),
    Quantity(
        *("direction", "", "direction", "", 0),
        *("forward is the order of sectors 1 2 3", "common practice", "three Hall signals", _HALLED),
    ),
    Quantity(
        *("hall_state", "", "Hall state", "", 0),
        *("levels of C B A as a binary number", "common practice", "three Hall signals", _HALLED),
    ),
    Quantity("sector", "", "sector", "", 0, _TABLE, "common practice", "three Hall signals", _HALLED),
    Quantity(
        *("electrical_deg", "ϑ_e", "electrical angle", "°", 0),
        *("last edge plus speed x time, held at the next boundary", "common practice", "three Hall signals", _HALLED),
    ),
    Quantity("commutation_valid", "", "state order", "", 0, _TABLE, "common practice", "three Hall signals", _HALLED),
    Quantity(
        *("state_order", "", "states as they came", "", 0),
        *("at most the last six Hall states", "common practice", "three Hall signals", _HALLED),
    ),
    Quantity(
        *("electrical_frequency_hz", "f_e", "electrical frequency", "Hz", 1),
        *("pole pairs x speed / 60", "common practice", "three Hall signals", _HALLED),
    ),
)
