"""A file and its description become a recording. The format is told in PLAYER.md; here it is read."""

import tomllib
from fractions import Fraction
from pathlib import Path
from typing import Any

import numpy as np

from firmware_protocol import InputDescription, InputKind, Role, SampleKind
from simulator.described import Table
from simulator.plate import plate_text
from simulator.recorded_files import RecordedFile, read_file
from simulator.recording import RecordedChannel, Recording, RecordingError

_TOP = ("name", "serial", "tick_hz", "start_s", "plate", "motor", "channel", "input", "edges")
_CHANNEL = (
    *("data", "column", "factor", "offset", "name", "role", "place", "unit", "low", "high"),
    *("rate_hz", "times", "interval_max_s", "kind", "kind_s", "delay_s", "delay_limit_s", "noise_rms"),
    *("gain_limit", "offset_limit", "corner_low_hz", "corner_high_hz", "ac_coupled", "bits"),
)
_INPUT = ("name", "kind", "bit", "pulses_per_turn", "inverted")
_EDGES = ("times", "states", "levels_before")
_MOTOR = ("name", "type", "plate")


def read_recording(path: Path, description: Path | None = None) -> Recording:
    """Read a file with the TOML of `description`; None: the file beside it with the ending .toml.

    Raises RecordingError.
    """
    file = read_file(path)
    beside = description or path.with_suffix(".toml")
    if not beside.is_file():
        raise RecordingError(
            f"there is no description {beside}: write one (simulator/PLAYER.md says how) or name it by --description. "
            f"{path.name} holds: {file.contents}"
        )
    try:
        table = tomllib.loads(beside.read_text(encoding="utf-8"))
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
        raise RecordingError(f"{beside}: {error}") from None
    return described_recording(file, table, beside.name)


def described_recording(file: RecordedFile, description: dict[str, Any], where: str = "description") -> Recording:
    """The recording that a file holds, by a description with the keys of PLAYER.md. Raises RecordingError."""
    top = Table(description, where, _TOP)
    edges = top.table("edges", _EDGES) if "edges" in top else None
    some: dict[str, Any] = {}
    if edges is not None:
        some["edge_times_s"] = file.numbers(edges.text("times"))
        some["edge_states"] = file.numbers(edges.text("states")).astype(np.uint8)
        some["levels_before"] = edges.whole("levels_before", 0)
    return Recording(
        top.text("name", file.path.stem),
        [_channel(file, table) for table in top.tables("channel", _CHANNEL)],
        [_input(index, table) for index, table in enumerate(top.tables("input", _INPUT))],
        plate=_plate(file, top),
        serial=top.text("serial", "PL-0001"),
        tick_hz=top.whole("tick_hz", 1_000_000),
        start_s=top.maybe_number("start_s"),
        **some,
    )


def _channel(file: RecordedFile, table: Table) -> RecordedChannel:
    data = table.raw("data")
    name = str(data) if isinstance(data, int) else table.text("data")  # the channels of a WAV file are numbers
    factor, offset = table.maybe_number("factor"), table.maybe_number("offset")
    numbers = file.numbers(name, table.whole("column", 0) if "column" in table else None)
    uneven = "times" in table
    return RecordedChannel(
        table.text("name", name),
        table.one_of("role", Role),
        table.text("unit"),
        table.number("low"),
        table.number("high"),
        numbers * (1.0 if factor is None else factor) + (offset or 0.0),
        place=table.text("place", ""),
        rate_hz=None if uneven and "rate_hz" not in table else _rate_hz(file, table),
        times_s=file.numbers(table.text("times")) if uneven else None,
        interval_max_s=table.maybe_number("interval_max_s"),
        kind=table.one_of("kind", SampleKind, "instantaneous"),
        kind_s=table.maybe_number("kind_s") or 0.0,
        delay_s=table.maybe_number("delay_s") or 0.0,
        delay_limit_s=table.limit("delay_limit_s"),
        noise_rms=table.limit("noise_rms"),
        gain_limit=table.limit("gain_limit"),
        offset_limit=table.limit("offset_limit"),
        corner_low_hz=table.maybe_number("corner_low_hz"),
        corner_high_hz=table.maybe_number("corner_high_hz"),
        ac_coupled=table.yes("ac_coupled"),
        bits=table.whole("bits", 16),
    )


def _rate_hz(file: RecordedFile, table: Table) -> Fraction | float | None:
    """A number; a fraction as "1000/3"; the name of an array that holds it; or what the file itself states."""
    if "rate_hz" not in table:
        return file.rate_hz
    rate = table.raw("rate_hz")
    if not isinstance(rate, str):
        return table.number("rate_hz")
    try:
        return Fraction(rate)
    except (ValueError, ZeroDivisionError):
        return file.number(rate)


def _input(index: int, table: Table) -> InputDescription:
    kind = table.one_of("kind", InputKind)
    if kind is InputKind.COUNTER:
        raise RecordingError(f"{table.where}: the player plays edges; a counter has none")
    pulses = table.whole("pulses_per_turn", 1) if "pulses_per_turn" in table else None
    return InputDescription(
        index, kind, table.text("name"), table.whole("bit", index), pulses, inverted=table.yes("inverted")
    )


def _plate(file: RecordedFile, top: Table) -> str:
    """The [motor] of the description, else the text of the array that `plate` names, else nothing."""
    if "motor" in top:
        motor = top.table("motor", _MOTOR)
        plate = motor.raw("plate") if "plate" in motor else {}
        return plate_text(motor.text("name", ""), motor.text("type", ""), plate)
    return file.text(top.text("plate")) if "plate" in top else ""
