"""The motors of the bench: plates, channels, and stories that happen as they are told."""

import tomllib
from dataclasses import fields, replace

import numpy as np
import pytest
from numpy.typing import NDArray

from firmware_protocol import ChannelDescription, Identity, Samples, Status
from server.config import Plate
from simulator.bench import RATE_HZ, BenchMotor, bench, bench_board, bench_motor, bench_source, story_of
from simulator.motor_source import MotorSource
from simulator.motors.motor import Motor
from simulator.nearest import WrongNameError
from simulator.stories import Story
from tests.simulator.fakes import Still, codes_of, messages

SEED = 11
BENCH = bench()


def _si(motor: BenchMotor, data: bytes) -> NDArray[np.float64]:
    """All samples of a stream in SI units, (channels, samples), scaled as the descriptions say."""
    sent = messages(data)
    channels = [message for message in sent if isinstance(message, ChannelDescription)][: len(motor.channels)]
    codes = np.concatenate([codes_of(message) for message in sent if isinstance(message, Samples)])
    scale, offset = (np.array([[getattr(one, key)] for one in channels]) for key in ("scale", "offset"))
    return np.asarray(codes.T * scale + offset, dtype=np.float64)


@pytest.mark.parametrize("motor", BENCH, ids=lambda motor: motor.key)
def test_the_plate_is_toml_with_the_keys_of_a_rigs_settings(motor: BenchMotor) -> None:
    identity = next(m for m in messages(bench_board(motor.key).step(0.0)) if isinstance(m, Identity))
    told = tomllib.loads(identity.plate)["motor"]
    assert (told["name"], told["type"]) == (motor.name, motor.type)
    assert told["plate"] == dict(motor.plate)
    assert set(told["plate"]) <= {field.name for field in fields(Plate)}
    assert identity.source == "demo"


@pytest.mark.parametrize("motor", BENCH, ids=lambda motor: motor.key)
def test_every_channel_says_all_that_is_to_be_known_of_it(motor: BenchMotor) -> None:
    for channel in motor.channels:
        known = (channel.noise_codes_rms, channel.gain_limit, channel.offset_limit_codes, channel.delay_limit_ns)
        assert None not in known
        assert channel.corner_high_hz
        assert (channel.name, channel.place, channel.unit) > ("", "", "")
    assert [channel.index for channel in motor.channels] == list(range(len(motor.channels)))
    assert set(motor.signals) <= set(motor.model.signals)


@pytest.mark.parametrize("motor", BENCH, ids=lambda motor: motor.key)
def test_one_seed_gives_the_same_bytes_whatever_the_steps_and_another_seed_others(motor: BenchMotor) -> None:
    whole = bench_board(motor.key, 7).step(2.5)
    board = bench_board(motor.key, 7)
    assert b"".join(board.step(0.1) for _ in range(25)) == whole
    assert bench_board(motor.key, 8).step(2.5) != whole


def test_the_clock_of_a_board_is_wrong_by_its_own_fixed_error_and_inside_its_tolerance() -> None:
    errors = [bench_board("cabin_ventilator", seed).clock_error_ppm for seed in range(30)]
    assert max(np.abs(errors)) <= 50.0
    assert np.ptp(errors) > 60.0
    assert errors[3] == bench_board("cabin_ventilator", 3).clock_error_ppm


def test_a_fast_clock_sees_mains_too_slow_by_just_its_error() -> None:
    seed = max(range(30), key=lambda seed: bench_board("cabin_ventilator", seed).clock_error_ppm)
    board = bench_board("cabin_ventilator", seed)
    ppm = board.clock_error_ppm
    assert ppm > 40
    voltage = _si(bench_motor("cabin_ventilator"), board.step(8.0))[0, 2 * RATE_HZ :]
    crossings = np.flatnonzero((voltage[:-1] < 0) & (voltage[1:] >= 0))
    exact = crossings - voltage[crossings] / (voltage[crossings + 1] - voltage[crossings])  # straight between samples
    measured_hz = (len(exact) - 1) / (exact[-1] - exact[0]) * RATE_HZ
    assert (measured_hz / 50.0 - 1) * 1e6 == pytest.approx(-ppm, abs=2.0)


def _played(motor: BenchMotor, story: Story, rate_hz: float, seconds: float) -> NDArray[np.float64]:
    """The signals of the first `seconds` of a story, (channels, samples), by the model and its brushes alone."""
    model = Motor(motor.model, motor.parameters, rate_hz, SEED)
    draw = np.random.default_rng((SEED, 101))
    disturbance = motor.model.disturbance and motor.model.disturbance(motor.parameters, rate_hz, draw)
    rows = [motor.model.signals.index(signal) for signal in motor.signals]
    pieces = []
    ends_s = [step.time_s for step in story.steps[1:]] + [story.duration_s]
    at = 0
    for step, end_s in zip(story.steps, ends_s, strict=True):
        model.set(**step.controls)
        until = round(min(end_s, seconds) * RATE_HZ)
        if until > at:
            trace = model.advance(until - at)
            values = disturbance.add(trace, model.controls) if disturbance else trace.values
            pieces.append(values[rows])
            at = until
    return np.concatenate(pieces, axis=1)


@pytest.mark.parametrize("motor", BENCH, ids=lambda motor: motor.key)
def test_what_the_board_says_is_what_the_model_did_within_the_stated_limits(motor: BenchMotor) -> None:
    board = bench_board(motor.key, SEED)
    measured = _si(motor, board.step(4.0))
    true_hz = RATE_HZ * (1 + 1e-6 * board.clock_error_ppm)
    wanted = _played(motor, motor.stories[0], true_hz, 4.0)
    window = 200  # means of 10 ms: free of noise, blunt to 15 us of delay
    count = measured.shape[1] // window * window
    for channel, got, expected in zip(motor.channels, measured, wanted, strict=True):
        swing = np.ptp(np.concatenate((expected[:1], expected[: count - 1])).reshape(-1, window), axis=1)
        got, expected = (row[:count].reshape(-1, window) for row in (got, expected))
        swing = np.maximum(swing, np.ptp(expected, axis=1))
        of_errors = (channel.gain_limit or 0) * np.abs(expected.mean(axis=1))
        of_errors += channel.scale * (
            (channel.offset_limit_codes or 0) + 5 * (channel.noise_codes_rms or 0) / window**0.5
        )
        of_delay = 15e-6 * RATE_HZ / window * swing
        assert (np.abs(got.mean(axis=1) - expected.mean(axis=1)) < of_errors + of_delay + 1e-9).all(), channel.name


@pytest.mark.parametrize("motor", BENCH, ids=lambda motor: motor.key)
def test_a_resting_motor_reads_as_resting(motor: BenchMotor) -> None:
    # Motor sheet: resting is a current under 2 % of the plate's and an own voltage under 2 % of the plate's.
    for seed in range(5):
        values = _si(motor, bench_board(motor.key, seed).step(0.5))
        for channel, row in zip(motor.channels, values, strict=True):
            rated = motor.plate["voltage_v" if channel.unit == "V" else "current_a"]
            assert np.sqrt(np.mean(row**2)) < 0.01 * rated


def test_the_truth_says_when_a_story_did_what_and_the_signal_agrees() -> None:
    board = bench_board("cabin_ventilator", 2, story="start and load")
    voltage = _si(bench_motor("cabin_ventilator"), board.step(3.0))[0]
    on = next(one for one in board.truth if (one.control, one.value) == ("supply_on", 1))
    assert (on.board_s, on.story) == (1.5, "start and load")
    assert np.abs(voltage[: round(1.49 * RATE_HZ)]).max() < 1.0
    assert np.abs(voltage[round(1.5 * RATE_HZ) :]).max() > 320.0
    assert not [one for one in board.truth if one.board_s > 3.0]


def test_stories_follow_one_another_and_begin_again() -> None:
    motor = bench_motor("tender_thruster")
    motor = replace(motor, stories=motor.stories[:3])

    def still(*, rate_hz: float) -> Still:
        return Still(motor.model, motor.parameters, rate_hz)

    board = bench_board(motor, 1, make=still, truth=True)
    board.step(80.0)
    begun = [(row.board_s, row.values["story"]) for row in board.take_truth() if row.kind == "story"]
    names = [story.name for story in motor.stories]
    assert begun == [(0.0, names[0]), (24.0, names[1]), (51.0, names[2]), (78.0, names[0])]


@pytest.mark.parametrize(
    ("key", "before", "story"),
    [
        ("bilge_pump", "flat battery", "start and load"),
        ("air_compressor", "start switch stuck closed", "start and load"),
        ("hatch_actuator", "missed steps", "start and load"),
    ],
)
def test_a_story_plays_alike_alone_and_after_any_other(key: str, before: str, story: str) -> None:
    """Speeds, contacts and temperatures as truth tells them; the shaft may stand elsewhere, and noise goes on."""
    motor = bench_motor(key)
    alone, after = (
        bench_source(replace(motor, stories=tuple(story_of(motor, name) for name in names)), truth=True)
        for names in ([story], [before, story])
    )
    late_s = story_of(motor, before).duration_s
    rows = [_series(source, begin_s, 6.0) for source, begin_s in ((alone, 0.0), (after, late_s))]
    assert len(rows[0]) == len(rows[1]) > 500
    for first, second in zip(*rows, strict=True):
        assert second["speed_rpm"] == pytest.approx(first["speed_rpm"], rel=0.01, abs=30.0)  # a piston elsewhere
        assert second["winding_c"] == pytest.approx(first["winding_c"], abs=0.01)


def _series(source: MotorSource, begin_s: float, seconds: float) -> list[dict[str, float]]:
    """The series of the truth over so many seconds, from a tenth of a second after `begin_s` on."""
    rows: list[dict[str, float]] = []
    for k in range(round((begin_s + seconds) / 0.5)):
        truth = source.advance(k * 500_000, (k + 1) * 500_000).truth
        rows += [
            {key: float(str(value)) for key, value in row.values.items()}
            for row in truth
            if row.kind == "series" and row.board_s > begin_s + 0.1
        ]
    return rows


def test_the_board_grows_warm_and_says_its_supply() -> None:
    statuses = [m for m in messages(bench_board("cabin_ventilator", 1).step(2.0)) if isinstance(m, Status)]
    temperatures = [status.temperature_c or 0.0 for status in statuses]
    assert 15 < temperatures[0] < temperatures[-1] < 40
    assert 4.9 < (statuses[0].supply_v or 0.0) < 5.1


def test_a_wrong_name_gets_the_nearest_right_one() -> None:
    with pytest.raises(WrongNameError, match="'cabin_ventilator'"):
        bench_motor("Cabin-Ventilator")
    with pytest.raises(WrongNameError, match="'reversal'"):
        story_of(bench_motor("tender_thruster"), "reverse")
