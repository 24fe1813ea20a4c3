"""Random measurements whose truth is known: waves of a few orders, seen by channels that err within what they state.

The truth is computed here from the orders themselves, by the definitions, and not by the service.
"""

from dataclasses import dataclass
from math import atan2, cos, degrees, exp, hypot, pi, sqrt

import numpy as np
from numpy.typing import NDArray

from firmware_protocol import Role
from server.samples import Channel, Part, Samples

RATE_HZ, SAMPLES, TICK_HZ = 20_000.0, 4000, 1_000_000.0
ORDERS = (1, 2, 3, 5, 7, 11, 13, 25)
_TURN = np.exp(2j * pi / 3)


@dataclass(frozen=True, slots=True)
class Wave:
    """Mean and RMS phasors of ORDERS."""

    mean: float
    phasors: NDArray[np.complex128]

    @property
    def rms(self) -> float:
        return sqrt(self.mean**2 + float((np.abs(self.phasors) ** 2).sum()))

    def at(self, times_s: NDArray[np.float64], hertz: float) -> NDArray[np.float64]:
        turn = np.exp(2j * pi * hertz * times_s)
        values = np.full(times_s.shape, self.mean)
        power, order = turn.copy(), 1
        for each, phasor in zip(ORDERS, self.phasors, strict=True):
            while order < each:
                power *= turn
                order += 1
            if phasor:
                values += sqrt(2.0) * (phasor.real * power.real - phasor.imag * power.imag)
        return values


@dataclass(frozen=True, slots=True)
class Case:
    """A window as the service gets it, what is true of it by reading id (`lists`: of orders 1 to 50), and whether it is
    of three phases."""

    window: Samples
    truth: dict[str, float]
    lists: dict[str, tuple[float, ...]]
    three_phase: bool


def case(draw: np.random.Generator, three_phase: bool) -> Case:
    """One measurement: 45 to 66 Hz, up to 15 % of each harmonic, 40 to 80 dB of the fundamental above the noise."""
    hertz = draw.uniform(45.0, 66.0)
    places = ("L1", "L2", "L3") if three_phase else ("supply",)
    lines = places if three_phase else ("line",)
    volts, amps = draw.uniform(20.0, 300.0), exp(draw.uniform(-1.5, 2.0))
    angle = draw.uniform(-1.5, 1.5) if draw.random() < 0.8 else draw.normal(0.0, 0.02)
    fine = exp(-draw.uniform(4.0, 7.0)) if draw.random() < 0.4 else 1.0  # some boards leave scatter alone
    waves, channels = [], []
    for role, size, turned, names in ((Role.VOLTAGE, volts, 0.0, places), (Role.CURRENT, amps, -angle, lines)):
        for n, place in enumerate(names):
            uneven = 1.0 + (draw.normal(0.0, 0.05) if three_phase else 0.0)
            waves.append(_wave(draw, size * uneven, turned - n * 2 * pi / 3))
            channels.append(_channel(draw, role, place, size, fine))
    clock_ppm = fine**2 * exp(draw.uniform(0.0, 4.0))
    clock = Part(clock_ppm * 1e-6 / sqrt(3.0))
    seconds = (1.0 + draw.uniform(-clock_ppm, clock_ppm) * 1e-6) * np.arange(SAMPLES, dtype=np.float64) / RATE_HZ
    seen = [_seen(draw, wave, channel, seconds, hertz) for wave, channel in zip(waves, channels, strict=True)]
    described = tuple(_with(channel, k, clock) for k, channel in enumerate(channels))
    values, none = np.ascontiguousarray(np.vstack(seen)), np.zeros(SAMPLES, dtype=np.bool_)
    window = Samples(described, 0, 0, TICK_HZ / RATE_HZ, TICK_HZ, values, none, np.zeros(values.shape, dtype=np.bool_))
    volts_waves, amps_waves = waves[: len(places)], waves[len(places) :]
    truth = _three(volts_waves, amps_waves) if three_phase else _single(volts_waves[0], amps_waves[0], "")
    truth |= _angles(volts_waves, "voltage", volts_waves[0]) | _angles(amps_waves, "current", volts_waves[0])
    lists = {"current_harmonics_a": _orders(amps_waves[0])}
    return Case(window, truth | {"frequency_hz": hertz}, lists, three_phase)


def _orders(wave: Wave) -> tuple[float, ...]:
    sizes = dict(zip(ORDERS, np.abs(wave.phasors).tolist(), strict=True))
    return tuple(sizes.get(order, 0.0) for order in range(1, 51))


def _wave(draw: np.random.Generator, size: float, angle: float) -> Wave:
    shares = np.where(draw.random(len(ORDERS)) < 0.7, draw.uniform(0.0, 0.15, len(ORDERS)), 0.0) / np.sqrt(ORDERS)
    turns = np.exp(1j * draw.uniform(0.0, 2 * pi, len(ORDERS)))
    phasors = size * shares * turns
    phasors[0] = size * np.exp(1j * angle)
    return Wave(size * (draw.normal(0.0, 0.01) if draw.random() < 0.3 else 0.0), phasors)


def _channel(draw: np.random.Generator, role: Role, place: str, size: float, fine: float) -> Channel:
    """Limits between good and poor; some channels have been calibrated, and then it is as likely to be off either way
    as a normal distribution has it."""
    unit, name = ("V", "U") if role is Role.VOLTAGE else ("A", "I")
    top = 2.2 * size * exp(draw.uniform(0.0, 1.0))
    noise = size * 10 ** (-draw.uniform(40.0, 80.0) / 20.0)
    gain, offset, delay = (
        fine * exp(draw.uniform(-9.0, -4.5)),
        fine * size * exp(draw.uniform(-9.5, -5.0)),
        fine * exp(draw.uniform(-16.0, -11.5)),
    )
    box = bool(draw.random() < 0.6)
    gain_part, offset_part, delay_part = (Part(each / sqrt(3.0), box) for each in (gain, offset, delay))
    return Channel(
        *(0, role, f"{name} {place}", place, unit, -top, top, 0, RATE_HZ),
        noise_rms=noise,
        gain=gain_part,
        offset_error=offset_part,
        delay_error=delay_part,
        step=top / 32_000,
    )


def _with(channel: Channel, index: int, clock: Part) -> Channel:
    kept = {name: getattr(channel, name) for name in Channel.__slots__}
    return Channel(**{**kept, "index": index, "clock": clock})


def _off(draw: np.random.Generator, part: Part | None) -> float:
    assert part is not None
    limit = part.standard * sqrt(3.0)
    return draw.uniform(-limit, limit) if part.rectangular else draw.normal(0.0, part.standard)


def _seen(
    draw: np.random.Generator, wave: Wave, channel: Channel, seconds: NDArray[np.float64], hertz: float
) -> NDArray[np.float64]:
    true = wave.at(seconds - _off(draw, channel.delay_error), hertz)
    measured = true * (1.0 + _off(draw, channel.gain)) + _off(draw, channel.offset_error)
    measured += draw.normal(0.0, channel.noise_rms or 0.0, seconds.shape[0])
    rounded: NDArray[np.float64] = np.rint(measured / channel.step) * channel.step
    return rounded


def _behind(key: str, place: str) -> str:
    return f"{key}.{place}" if place else key


def _single(voltage: Wave, current: Wave, place: str) -> dict[str, float]:
    """IEEE 1459-2010, 3.1 (from memory) for one phase."""
    products = voltage.phasors * current.phasors.conj()
    power = voltage.mean * current.mean + float(products.real.sum())
    apparent, first = voltage.rms * current.rms, complex(products[0])
    dense, high = (np.abs(wave.at(np.arange(8192) / 8192.0, 1.0)) for wave in (current, voltage))
    found = {
        "voltage_rms_v": voltage.rms,
        "current_rms_a": current.rms,
        "voltage_mean_v": voltage.mean,
        "current_mean_a": current.mean,
        "current_peak_a": float(dense.max()),
        "current_crest_factor": float(dense.max()) / current.rms,
        "voltage_half_cycle_min_v": voltage.rms,
        "voltage_half_cycle_max_v": voltage.rms,
        "current_half_cycle_min_a": current.rms,
        "current_half_cycle_max_a": current.rms,
        "voltage_peak_v": float(high.max()),
        "voltage_crest_factor": float(high.max()) / voltage.rms,
        "active_power_w": power,
        "apparent_power_va": apparent,
        "power_factor": power / apparent,
        "non_active_power_var": sqrt(max(apparent**2 - power**2, 0.0)),
        "phase_angle_deg": degrees(atan2(first.imag, first.real)),
        "displacement_power_factor": cos(atan2(first.imag, first.real)),
        "fundamental_reactive_power_var": first.imag,
        "voltage_fundamental_v": float(abs(voltage.phasors[0])),
        "current_fundamental_a": float(abs(current.phasors[0])),
        "voltage_thd_percent": _thd(voltage),
        "current_thd_percent": _thd(current),
    }
    return {_behind(key, place): value for key, value in found.items()}


def _angles(waves: list[Wave], role: str, against: Wave) -> dict[str, float]:
    """By how much each fundamental leads that of the first voltage; not of that one itself."""
    places = ("", "L2", "L3")
    turned = [complex(wave.phasors[0] * against.phasors[0].conj()) for wave in waves]
    return {
        _behind(f"{role}_angle_deg", place): degrees(atan2(each.imag, each.real))
        for place, each, wave in zip(places, turned, waves, strict=False)
        if wave is not against
    }


def _thd(wave: Wave) -> float:
    sizes = np.abs(wave.phasors)
    return 100.0 * float(np.sqrt((sizes[1:] ** 2).sum()) / sizes[0])


def _three(volts: list[Wave], amps: list[Wave]) -> dict[str, float]:
    """Three phases: each as above, and together (IEEE 1459-2010, 3.2; Fortescue 1918; NEMA MG 1; from memory)."""
    found: dict[str, float] = {}
    for voltage, current, place in zip(volts, amps, ("L1", "L2", "L3"), strict=True):
        its = _single(voltage, current, "")
        main = ("voltage_", "current_")
        found |= {
            _behind(key, "" if key.startswith(main) and place == "L1" else place): each for key, each in its.items()
        }
    power = sum(found[f"active_power_w.{place}"] for place in ("L1", "L2", "L3"))
    arithmetic = sum(found[f"apparent_power_va.{place}"] for place in ("L1", "L2", "L3"))
    between = [_between(volts[k], volts[(k + 1) % 3]) for k in range(3)]
    mean = sum(between) / 3.0
    found |= dict(zip((f"line_voltage_rms_v.{pair}" for pair in ("L1-L2", "L2-L3", "L3-L1")), between, strict=True))
    effective = 3.0 * sqrt(sum(each**2 for each in between) / 9.0 * sum(each.rms**2 for each in amps) / 3.0)
    found |= {
        "active_power_w": power,
        "arithmetic_apparent_power_va": arithmetic,
        "effective_apparent_power_va": effective,
        "power_factor": power / arithmetic,
        "effective_power_factor": power / effective,
        "non_active_power_var": sqrt(max(arithmetic**2 - power**2, 0.0)),
        "voltage_max_deviation_percent": 100.0 * max(abs(each - mean) for each in between) / mean,
    }
    for waves, name, unit in ((volts, "voltage", "v"), (amps, "current", "a")):
        a, b, c = (complex(wave.phasors[0]) for wave in waves)
        positive, negative = abs(a + _TURN * b + _TURN**2 * c) / 3, abs(a + _TURN**2 * b + _TURN * c) / 3
        found[f"{name}_positive_sequence_{unit}"], found[f"{name}_negative_sequence_{unit}"] = positive, negative
        found[f"{name}_zero_sequence_{unit}"] = abs(a + b + c) / 3
        found[f"{name}_unbalance_percent"] = 100.0 * negative / positive
    return found


def _between(one: Wave, other: Wave) -> float:
    return hypot(one.mean - other.mean, float(np.sqrt((np.abs(one.phasors - other.phasors) ** 2).sum())))
