"""What the service says of the stories of the software boards, and when what happened really did."""

from dataclasses import dataclass
from functools import lru_cache

from server.config import RigSettings
from server.pipeline import Pipeline
from server.readings import Event, Fast, Instant, Reading
from simulator.bench import bench_board, bench_motor, story_of

_STEP_S = 0.5


@dataclass(frozen=True)
class Told:
    """All that was said of one story. Times are board time, which a software board begins with its story."""

    events: list[Event]
    instants: list[Instant]
    fast: list[Fast]

    def kinds(self, *left_out: str) -> list[tuple[str, float]]:
        """Kind and time of each event in the order of time."""
        found = [(each.kind, each.board_s) for each in self.events if each.kind not in left_out]
        return sorted(found, key=lambda each: each[1])

    def event(self, kind: str, number: int = 0) -> Event:
        return [each for each in sorted(self.events, key=lambda each: each.board_s) if each.kind == kind][number]

    def states(self) -> list[tuple[str, float]]:
        """Each run state and since when, as it stands once all is known."""
        held: list[tuple[str, float]] = []
        for change in (change for fast in self.fast for change in fast.changes):
            held = [each for each in held if each[1] < change.board_s - 1e-9]
            if not held or held[-1][0] != change.state:
                held.append((change.state, change.board_s))
        return held

    def readings(self, key: str) -> list[tuple[float, Reading]]:
        return [(each.board_s, reading) for each in self.instants for reading in each.readings if reading.id == key]

    def reading(self, key: str, board_s: float) -> Reading:
        """Of the window that ends at this time or is the first one after it."""
        return next(reading for at, reading in self.readings(key) if at >= board_s - 1e-6)


@lru_cache(maxsize=16)
def told(motor: str, story: str) -> Told:
    """One story of a motor of the bench, from a board that is switched on with it."""
    board, pipeline = bench_board(motor, story=story), Pipeline(RigSettings("r"))
    seconds = story_of(bench_motor(motor), story).duration_s
    outputs = [pipeline.push(board.step(_STEP_S), 0.0) for _ in range(round(seconds / _STEP_S))]
    return Told(
        [each for output in outputs for each in output.events],
        [each for output in outputs for each in output.instants],
        [each for output in outputs for each in output.fast],
    )


def when(motor: str, story: str, control: str, value: float, number: int = 0) -> float:
    """When the story gave this control this value."""
    steps = story_of(bench_motor(motor), story).steps
    return [step.time_s for step in steps if step.controls.get(control) == value][number]
