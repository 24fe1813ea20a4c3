"""Logs for tests: a log that is written step by step, and the readings that a log and a replay of its run give."""

from collections.abc import Callable
from pathlib import Path

from server.readings import Event, Instant, Reading
from server.runs.layout import Entry, Kind
from server.runs.log.live import LiveLog
from server.runs.log.packed import packed
from server.runs.log.reading import LogReader
from server.runs.log.taken import Said, Taken
from server.runs.replay import Replay
from server.stream.clock import Clock

OPEN = Entry(Kind.OPEN, 1_795_615_320.0, b'{"serial": "T-1", "reason": "test"}')
CLOSE = Entry(Kind.CLOSE, 1_795_615_400.0, b"ended by a person")
BEGIN = Entry(Kind.BEGIN, 1_795_615_320.0, b"[rig]")
CLOCK = Clock(1e6, low_s=1_795_615_320.0, high_s=1_795_615_320.0)


def taken_at(board_s: float, value: float = 1.0, instants: int = 1) -> Taken:
    """What comes with a chunk: instants in turn of a current."""
    its = tuple(
        Instant(k, k + 1, board_s + 0.2 * k, 0.2, (Reading("current_rms_a", value), Reading("run_state", "running")))
        for k in range(instants)
    )
    return Taken(None, (Said(its, (), (), None, CLOCK),))


def with_event(its: Taken, board_s: float) -> Taken:
    (said,) = its.said
    event = Event("load_step", board_s, "Current rose")
    return Taken(its.entry, (Said(said.instants, said.rows, (event,), None, CLOCK),))


class Stepped(LiveLog):
    """A log without its thread: a test makes the steps."""

    def __init__(self, run: Path, free: Callable[[Path], tuple[int, int]] = lambda folder: (10**12, 10**13)) -> None:
        super().__init__("bench", free)
        run.mkdir(exist_ok=True)
        self.run, self._now_s = run, 0.0

    def give(self, *all_taken: Taken) -> None:
        for its in all_taken:
            self.put(its)

    def written(self, after_s: float = 1.0) -> None:
        """The next step, so much later."""
        self._now_s += after_s
        self.step(self._now_s)

    def begin(self) -> None:
        """A run opens."""
        self.opened(OPEN, self.run)
        self.give(Taken(OPEN, ()), Taken(BEGIN, ()))

    def close(self) -> None:
        self.give(Taken(CLOSE, ()))
        self.written()


def of_a_full_disk(run: Path) -> tuple[Stepped, list[int]]:
    """A log that has written one instant and lost the next as the disk was full; and the bytes that are free."""
    free = [10**12]
    log = Stepped(run, lambda folder: (free[0], 10**13))
    log.begin()
    log.give(taken_at(0.0))
    log.written()
    free[0] = 5_000_000
    log.give(taken_at(1.0))
    log.written()
    return log, free


def replayed(run: Path) -> list[tuple[float, float, int, list[Reading]]]:
    """UTC, board time, tick and readings of each instant as a replay of the run gives them, without lists and
    without what they may be off by, which have rows of their own."""
    found = []
    for played in Replay(run):
        for part in played.output.parts if played.output else ():
            for instant in part.instants:
                ids = packed(instant.readings, lambda text: 0).ids
                readings = [plain(each) for each in instant.readings if each.id in ids]
                if readings:
                    found.append((part.clock.utc_s(instant.board_s), instant.board_s, instant.tick, readings))
    return found


def plain(reading: Reading) -> Reading:
    return Reading(reading.key, reading.value, reading.confidence, reading.reason, reading.place)


def logged(run: Path) -> list[tuple[float, float, int, list[Reading]]]:
    """The same from its log."""
    with LogReader(run) as log:
        return [(utc_s, each.board_s, each.tick, list(each.readings)) for utc_s, each in log.instants(0.0, 1e11)]
