"""Open recordings of real motors as recordings that the player takes: which array is what, in which range.

The data stand in the folder that the fixture `recordings` finds; nothing of them is copied here. Their index says
what is known of each. Even recordings that the source stores as single cycles are repeated here, not in the player.
"""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from firmware_protocol import Role, SampleKind
from simulator.player import player_board
from simulator.recording import RecordedChannel, Recording

CYCLE_REPEATED_S = 1.0  # each stored mains cycle is repeated for so long

# Half ranges (V, A) that the loads of each file stay in; the vacuum cleaner's own sensor ended at 27.85 A.
_PLAID_RANGES = {
    "plaid-fan-cycles": (200.0, 1.0),
    "plaid-air-conditioner-fan-cycles-1": (200.0, 1.0),
    "plaid-fridge-cycles-1": (200.0, 10.0),
    "plaid-vacuum-cycles-1": (200.0, 27.85),
    "plaid-half-wave-heater-cycles": (200.0, 5.0),
    "plaid-kettle-cycles": (200.0, 15.0),
}
_ITSC = ("hlt-1", "hlt-2", "hlt-3", "a10-1", "a20-1", "a30-1", "a40-1", "a40-2", "b10-1", "b20-1", "b40-1")
_SERVO = ("small-sines-low-gain", "small-sines-high-gain", "small-lift-and-drop", "large-sines", "large-lift-and-drop")
_TACHO = ("0p2", "0p7", "1p2", "2p0")

Arrays = dict[str, NDArray[Any]]


def _plaid(name: str, arrays: Arrays, rows: NDArray[np.bool_]) -> Recording:
    rate_hz = float(arrays["sample_rate_hz"])
    repeats = round(CYCLE_REPEATED_S * rate_hz / arrays["voltage_v"].shape[1])
    volts, amperes = _PLAID_RANGES[name]

    def repeated(key: str) -> NDArray[np.float64]:
        return np.repeat(arrays[key][rows][:, np.newaxis], repeats, axis=1).reshape(-1)

    return Recording(
        name,
        [
            RecordedChannel(
                "U", Role.VOLTAGE, "V", -volts, volts, repeated("voltage_v"), place="supply", rate_hz=rate_hz
            ),
            RecordedChannel(
                "I",
                Role.CURRENT,
                "A",
                -amperes,
                amperes,
                repeated("current_a"),
                place="line",
                rate_hz=rate_hz,
                ac_coupled=True,  # a clamp that does not pass direct current
            ),
        ],
    )


def _itsc(name: str, arrays: Arrays) -> Recording:
    rate_hz = float(arrays["sample_rate_hz"])
    return Recording(
        name,
        [
            RecordedChannel(
                f"I {place}", Role.CURRENT, "A", -10.0, 10.0, arrays["current_a"][:, k], place=place, rate_hz=rate_hz
            )
            for k, place in enumerate(("L1", "L2", "L3"))
        ],
    )


def _slow(arrays: Arrays, key: str, role: Role, unit: str, low: float, high: float, **more: Any) -> RecordedChannel:
    values = arrays[key].astype(np.float64)
    return RecordedChannel(key, role, unit, low, high, values, times_s=arrays["time_s"], **more)


def _compressor(name: str, arrays: Arrays) -> Recording:
    seconds = {"interval_max_s": 11.0}  # rows come every 10 s
    return Recording(
        name,
        [
            _slow(
                arrays,
                "motor_current_a",
                Role.CURRENT,
                "A",
                -1.0,
                15.0,
                place="line",
                kind=SampleKind.RMS,  # the source says RMS, but not over which time
                **seconds,
            ),
            _slow(arrays, "oil_temperature_c", Role.TEMPERATURE, "degC", 0.0, 120.0, place="oil", **seconds),
            _slow(arrays, "reservoir_pressure_bar", Role.OTHER, "bar", -1.0, 15.0, **seconds),
            _slow(arrays, "tp2_pressure_bar", Role.OTHER, "bar", -1.0, 15.0, **seconds),
            _slow(arrays, "load_valve_on", Role.COMMAND, "", -1.0, 2.0, place="load valve", **seconds),
            _slow(arrays, "intake_closed", Role.COMMAND, "", -1.0, 2.0, place="intake", **seconds),
        ],
    )


def _servo(name: str, arrays: Arrays) -> Recording:
    bus = {"interval_max_s": 0.010 if "small" in name else 0.040}
    channels = [
        _slow(arrays, "position_rad", Role.POSITION, "rad", -4.0, 4.0, place="shaft", **bus),
        _slow(arrays, "goal_position_rad", Role.COMMAND, "rad", -4.0, 4.0, place="goal", **bus),
        _slow(arrays, "supply_v", Role.VOLTAGE, "V", 0.0, 20.0, place="supply", **bus),
        _slow(arrays, "temperature_c", Role.TEMPERATURE, "degC", -20.0, 120.0, place="case", **bus),
        _slow(arrays, "torque_enabled", Role.COMMAND, "", -1.0, 2.0, place="torque", **bus),
    ]
    if "duty" in arrays:
        channels.append(_slow(arrays, "duty", Role.COMMAND, "", -1.5, 1.5, place="duty", **bus))
    return Recording(name, channels)


def _tacho(name: str, arrays: Arrays) -> Recording:
    rows = {"interval_max_s": 0.025}  # rows come every 20 ms
    return Recording(
        name,
        [
            _slow(arrays, "command_v", Role.COMMAND, "V", -6.0, 6.0, place="amplifier", **rows),
            _slow(arrays, "tacho_v", Role.OTHER, "V", -6.0, 6.0, place="tacho", **rows),
            _slow(arrays, "shaft_pot_v", Role.OTHER, "V", -1.0, 6.0, place="potentiometer", **rows),
            _slow(arrays, "pin8_v", Role.OTHER, "V", -6.0, 6.0, place="pin 8", **rows),
        ],
    )


def _run(name: str, arrays: Arrays) -> Recording:
    return _plaid(name, arrays, arrays["clean_run"])


def _start(name: str, arrays: Arrays) -> Recording:
    return _plaid(name, arrays, arrays["stage"] == "start")


_MAKERS: dict[str, tuple[str, Callable[[str, Arrays], Recording]]] = {
    **{name: (name, _run) for name in _PLAID_RANGES},
    **{f"{name} start": (name, _start) for name in _PLAID_RANGES},
    **{f"itsc-{name}": (f"itsc-{name}", _itsc) for name in _ITSC},
    **{f"servo-{name}": (f"servo-{name}", _servo) for name in _SERVO},
    **{f"dc-tacho-step-{name}": (f"dc-tacho-step-{name}", _tacho) for name in _TACHO},
    "compressor-night-1": ("compressor-night-1", _compressor),
}

NAMES = tuple(_MAKERS)


def recording(folder: Path, name: str) -> Recording:
    """The recording of that name; `plaid-... start` has the cycles after switching on, not the clean running ones."""
    file, make = _MAKERS[name]
    with np.load(folder / f"{file}.npz") as archive:
        return make(file, {key: archive[key] for key in archive.files})


def wire_bytes(folder: Path, name: str) -> bytes:
    """The wire bytes of a whole recording, from the power-on of its board to its last status."""
    board = player_board(recording(folder, name))
    pieces = []
    while not board.ended:
        pieces.append(board.step(10.0))
    return b"".join(pieces)
