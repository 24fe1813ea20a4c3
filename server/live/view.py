"""What a viewer can see of one rig, kept up to date by what the pipeline says. (Being built: the outer shape.)

Pure: no I/O, no clock. Not thread-safe: it lives on the event loop's thread with its rig.
"""

from server.live.records import BoardClock, Connection, Recording, Shown
from server.pipeline import Output


class View:
    """Set `connection`, `recording` and `motor` whenever they change; call `take` with every output of the pipeline.

    Rings and the strip need no call of their own: a new description or board time that runs backwards begins them
    anew, and the gap is shown.
    """

    def __init__(self, name: str) -> None:
        self.name = name
        self.connection = Connection()
        self.recording = Recording()
        self.motor = Shown()

    def take(self, output: Output, clock: BoardClock) -> None: ...

    def picture(self, now_utc_s: float, columns: int = 600, with_strip: bool = True) -> dict[str, object]:
        """The picture of SOCKET.md but for `number` and `rigs`, which the hub adds; arrays are float32 numpy arrays."""
        raise NotImplementedError
