"""`python -m tests.night.service SHARED ARGUMENTS`: `slipring ARGUMENTS`, whole, by the clocks of a fast bench.

UTC is made of the bench's two clocks, alarms are looked at as often in bench time as they are in ours, and it says how
far it has come. What waits for a disk or a port keeps real time: so the bench slows down where that counts.
"""

import sys
from pathlib import Path
from types import SimpleNamespace

from server import all_alarms
from server.__main__ import main
from server.ingest import intake, steady_clock
from server.live.records import Connection, ConnectionState
from server.pipeline import Output
from server.rig import Rig
from server.runs.recording import Recording
from simulator.serve import end_with_standard_input
from tests.night.shared import Shared

BEHIND_S_MAX = 60.0  # the bench waits for what it has sent; other work of this PC is not what is proved
LOOK_S = 0.01  # half a second of a bench that runs fifty times as fast


def watched(shared: Shared) -> None:
    """Put the bench's clock in place of this PC's, and tell what is taken."""
    take, connect = Recording.chunk, Rig._connect

    def chunk(self: Recording, data: bytes, utc_s: float) -> list[Output]:
        shown = take(self, data, utc_s)
        shared.taken += len(data)
        return shown

    def connected(self: Rig, connection: Connection) -> None:
        connect(self, connection)
        shared.live = connection.state is ConnectionState.LIVE

    # The bench stands between the service's parts here: mypy takes no method or module for a place to put something.
    Recording.chunk = chunk  # type: ignore[method-assign]
    Rig._connect = connected  # type: ignore[method-assign]
    steady_clock._monotonic_s = lambda: shared.monotonic_s
    steady_clock.time = SimpleNamespace(time=lambda: shared.monotonic_s + shared.wall_s)  # type: ignore[assignment,attr-defined]
    all_alarms.LOOK_S, intake.BEHIND_S_MAX = LOOK_S, BEHIND_S_MAX
    shared.taken, shared.live = 0, False


if __name__ == "__main__":
    end_with_standard_input()
    watched(Shared(Path(sys.argv[1])))
    sys.exit(main(sys.argv[2:]))
