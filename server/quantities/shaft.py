"""Catalogue entries of what the edges say; computed in `server.hall`."""

from server.quantities.quantity import Quantity

_TABLE = "six-step table of three Hall sensors"
SHAFT = (
    Quantity("speed_rpm", "n", "speed", "r/min", 0, "60 x turns / their own time"),
    Quantity("direction", "", "direction", "", 0, "forward is the order of sectors 1 2 3"),
    Quantity("hall_state", "", "Hall state", "", 0, "levels of C B A as a binary number"),
    Quantity("sector", "", "sector", "", 0, _TABLE),
    Quantity("electrical_deg", "ϑ_e", "electrical angle", "°", 0, "last edge plus speed x time"),
    Quantity("commutation_valid", "", "state order", "", 0, _TABLE),
    Quantity("state_order", "", "states as they came", "", 0, "at most the last six"),
    Quantity("electrical_frequency_hz", "f_e", "electrical frequency", "Hz", 1, "pole pairs x speed / 60"),
)
