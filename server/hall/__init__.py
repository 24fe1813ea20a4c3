"""Hall and pulse inputs: states, sectors, order, direction and speed from timestamped edges. Pure."""

from server.hall.counts import from_counts
from server.hall.readings import MAYBE_LOST, EdgeReadings, edge_readings
from server.hall.rows import speed_rows
from server.hall.table import FORWARD, sectors

__all__ = ["FORWARD", "MAYBE_LOST", "EdgeReadings", "edge_readings", "from_counts", "sectors", "speed_rows"]
