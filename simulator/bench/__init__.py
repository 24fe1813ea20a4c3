"""The motors of the demo bench, one file each, and boards that watch them. A boatyard and its motors: all invented."""

from fractions import Fraction
from pathlib import Path

from firmware_protocol import Source as SourceKind
from simulator.bench.motor import RATE_HZ, TICK_HZ, BenchMotor, read_motor, with_stories
from simulator.board import Board
from simulator.motor_source import MotorMaker, MotorSource, Terminals
from simulator.motors.motor import Motor
from simulator.nearest import WrongNameError, instead
from simulator.plate import plate_text
from simulator.source import About
from simulator.stories import Story
from simulator.teaching import Teaching

__all__ = [
    "BENCH_KEYS",
    "RATE_HZ",
    "BenchMotor",
    "bench",
    "bench_board",
    "bench_motor",
    "bench_source",
    "started_once",
    "story_of",
    "taught",
    "with_stories",
]

CLOCK_TOLERANCE_PPM = 50.0  # a plain crystal
_HERE = Path(__file__).parent
BENCH_KEYS = (
    "cabin_ventilator",
    "tender_thruster",
    "bench_grinder",
    "air_compressor",
    "air_compressor_start_run",
    "galley_extractor",
    "bilge_pump",
    "hand_planer",
    "anchor_windlass",
    "lathe",
    "lathe_cumulative",
    "lathe_differential",
    "slipway_pump",
    "clock_drive",
    "clock_drive_reluctance",
    "hatch_actuator",
    "gimbal",
    "net_winder",
)


def bench() -> tuple[BenchMotor, ...]:
    """All motors, in the order of the bench."""
    return tuple(bench_motor(key) for key in BENCH_KEYS)


def bench_motor(key: str) -> BenchMotor:
    """The motor of that key. WrongNameError says which there are."""
    if key not in BENCH_KEYS:
        raise WrongNameError(f"there is no motor {key!r} on the bench; {instead(key, BENCH_KEYS)}")
    return read_motor(_HERE / f"{key}.yaml")


def in_turn(motor: BenchMotor) -> tuple[Story, ...]:
    """The stories that follow one another: all but those that are played alone."""
    return tuple(story for story in motor.stories if not story.alone) or motor.stories


def story_of(motor: BenchMotor, name: str) -> Story:
    """The story of that name. WrongNameError says which there are."""
    by_name = {story.name: story for story in motor.stories}
    if name not in by_name:
        raise WrongNameError(f"the {motor.name} has no story {name!r}; {instead(name, by_name)}")
    return by_name[name]


def bench_source(
    motor: BenchMotor,
    seed: int = 0,
    *,
    story: str | None = None,
    make: MotorMaker | None = None,
    truth: bool = False,
    teaching: Teaching | None = None,
) -> MotorSource:
    """A motor of the bench that plays its stories in turn, or one over and over. WrongNameError.

    `teaching`: what a person tells it meanwhile.
    """
    about = About(
        SourceKind.DEMO,
        "software board",
        plate_text(motor.name, motor.type, motor.plate),
        TICK_HZ,
        CLOCK_TOLERANCE_PPM,
    )
    terminals = Terminals(motor.signals, motor.channels, motor.inputs, Fraction(TICK_HZ, RATE_HZ))
    stories = in_turn(motor) if story is None else (story_of(motor, story),)

    def made(*, rate_hz: float) -> Motor:
        return Motor(motor.model, motor.parameters, rate_hz, seed)

    return MotorSource(about, terminals, make or made, stories, seed, truth=truth, teaching=teaching)


def taught(motor: BenchMotor) -> Teaching:
    """What a person may tell that motor while its board runs: nothing yet."""
    return Teaching(motor.name, motor.model.controls, motor.at_rest)


def bench_board(
    motor: str | BenchMotor,
    seed: int = 0,
    *,
    story: str | None = None,
    serial: str = "HB-0001",
    boot: int = 1,
    make: MotorMaker | None = None,
    truth: bool = False,
) -> Board:
    """A board on such a motor; with `truth` its `take_truth` gives what really happened."""
    motor = bench_motor(motor) if isinstance(motor, str) else motor
    return Board(bench_source(motor, seed, story=story, make=make, truth=truth), seed, serial=serial, boot=boot)


def started_once(key: str) -> None:
    """Its model is compiled then and kept: its next start is a quick one."""
    bench_board(key).step(0.1)
