"""Commutation watched in a run: healthy motors get no verdict, and what is broken is told: random motors and loads."""

import json
import time
from collections.abc import Mapping
from dataclasses import dataclass
from functools import partial
from itertools import pairwise
from math import pi
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from firmware_protocol import InputKind, Role
from server.config import Plate
from server.motors import motor_type
from server.quantities import commutation_readings, shaft_readings
from server.samples import Channel, EdgeTrain, Input, Samples
from server.verdicts import Conclusions, Look
from simulator.hall_cases import HallMotor, healthy_motor
from simulator.hall_cases.case import Controls
from simulator.motors.brushless import MODEL, at_rest, constants
from simulator.motors.motor import advance
from simulator.motors.turned_rotor import take_place

HEALTHY, FAULTY = 50, 20
_PLATE_A, _SOUND_S, _SECONDS, _RATE_HZ, _TICK_HZ = 8.0, 10.0, 16.0, 20_000.0, 1_000_000.0
_NOISE_A, _NOISE_V = 0.03, 0.02
_PLACES = ("U", "V", "W")
_LEAST = 0.9  # of the cases of a fault
_LOADED = 0.4  # of the plate current at least, where resistances are compared


@dataclass(frozen=True)
class Fault:
    """What is put wrong, and the verdict that must come: its key, and what it is about."""

    name: str
    controls: Mapping[str, float | str]
    key: str = ""
    about: str = ""

    def key_of(self, direction: int) -> str:
        """A sensor board out of place is late one way and early the other."""
        other = {"run_commutation_late": "run_commutation_early", "run_commutation_early": "run_commutation_late"}
        return self.key if direction > 0 else other.get(self.key, self.key)


FAULTS = (
    *(Fault(f"lead {x} off", {f"phase_{x.lower()}_open": 1}, "phase_open", x) for x in _PLACES),
    *(Fault(f"{x}: 20 % more", {f"phase_{x.lower()}_ohm_factor": 1.2}, "phase_resistance", x) for x in _PLACES),
    *(Fault(f"upper switch {x}", {"upper_switch_dead": x}, "bridge_leg_dead", f"{x} upper") for x in _PLACES),
    *(Fault(f"lower switch {x}", {"lower_switch_dead": x}, "bridge_leg_dead", f"{x} lower") for x in _PLACES),
    Fault("20 degrees late", {"hall_late_deg": 20}, "run_commutation_late"),
    Fault("20 degrees early", {"hall_late_deg": -20}, "run_commutation_early"),
)
NONE = Fault("healthy", {})


@dataclass(frozen=True)
class Run:
    """What a board sees, by the sample and by the edge; `values`: voltages of U V W, link, currents of U V W."""

    values: NDArray[np.float64]
    edge_times_s: NDArray[np.float64]
    edge_levels: NDArray[np.uint8]
    start_levels: int
    rpm: float


def told(fault: Fault, seed: int) -> tuple[list[tuple[str, str]], float, int]:
    """Keys and subjects of what stands at the end of a run of that motor in which that fault came; speed; direction."""
    draw = np.random.default_rng((seed, 31))
    motor = healthy_motor(seed)
    share = draw.uniform(_LOADED if fault.key == "phase_resistance" else 0.05, 0.9)
    direction = int(draw.choice((-1, 1)))
    healthy = {
        "load_torque_n_m": 2.0 * motor.parameters.back_emf_v_s * _PLATE_A * share,
        "source_limit_a": np.inf,
        "source_ohm": 0.0,
        "current_limit_a": 40.0,
        "supply_on": 1,
        "duty": 1,
        "direction": direction,
    }
    run = played(motor, healthy, fault.controls, float(draw.uniform(0, 360)))
    return concluded(run, motor.parameters.pole_pairs, draw), run.rpm, direction


def played(motor: HallMotor, healthy: Controls, broken: Controls, start_deg: float) -> Run:
    """A start and _SOUND_S of healthy running, then the fault, to the end of _SECONDS."""
    case, state = constants(motor.parameters, motor.with_controls(healthy)), at_rest(motor.parameters, motor.seed)
    start = take_place(case, state, start_deg, False)
    count = round(_SOUND_S * _RATE_HZ)
    one = advance(MODEL, case, state, 0, count, _RATE_HZ)
    case = constants(motor.parameters, motor.with_controls({**healthy, **broken}))
    other = advance(MODEL, case, state, count, round(_SECONDS * _RATE_HZ) - count, _RATE_HZ)
    rows = [MODEL.signals.index(name) for name in ("u_v", "v_v", "w_v", "dc_link_v", "u_a", "v_a", "w_a")]
    values = np.concatenate((one.values[0, rows], other.values[0, rows]), axis=1)
    edges = [
        (each.edge_times_s[0, : each.edge_counts[0]], each.edge_states[0, : each.edge_counts[0]])
        for each in (one, other)
    ]
    times, levels = (np.concatenate(each) for each in zip(*edges, strict=True))
    return Run(values, times, levels, start, float(other.speed_rad_s[0, -1]) * 30 / pi)


def concluded(run: Run, pole_pairs: int, draw: np.random.Generator) -> list[tuple[str, str]]:
    """What the rules say at the end of what a board saw of this run."""
    brushless, plate = motor_type("brushless"), Plate(current_a=_PLATE_A, pole_pairs=pole_pairs)
    assert brushless is not None
    channel = partial(Channel, unit="", low=-60.0, high=60.0, group=0, rate_hz=_RATE_HZ)
    volts = [channel(k, Role.VOLTAGE, f"U {x}", x, noise_rms=_NOISE_V) for k, x in enumerate((*_PLACES, "dc link"))]
    amps = [channel(k + 4, Role.CURRENT, f"I {x}", x, noise_rms=_NOISE_A) for k, x in enumerate(_PLACES)]
    values = run.values + np.repeat((_NOISE_V, _NOISE_A), (4, 3))[:, None] * draw.standard_normal(run.values.shape)
    inputs = tuple(Input(k, InputKind.HALL, f"Hall {x}", k) for k, x in enumerate("ABC"))
    ticks = np.floor(run.edge_times_s * _TICK_HZ).astype(np.int64)
    end_tick = round(_SECONDS * _TICK_HZ)
    rules, found = Conclusions(), []
    for first, last in pairwise(range(0, values.shape[1] + 1, 4000)):
        shape = (7, last - first)
        window = Samples(
            (*volts, *amps), first, first * 50, 50.0, _TICK_HZ, values[:, first:last], np.zeros(shape[1], np.bool_),
            np.zeros(shape, np.bool_),
        )  # fmt: skip
        train = EdgeTrain(inputs, _TICK_HZ, run.start_levels, ticks, run.edge_levels, 0, end_tick)
        readings = commutation_readings(window, train, brushless, plate)
        readings += shaft_readings(train, window.first_tick, window.end_tick, plate)
        look = Look(last / _RATE_HZ, {each.id: each for each in readings}, brushless, plate)
        found = [(each.key, each.about) for each in rules.step(look, _raise)]
    return found


def _raise(what: str, error: Exception) -> None:
    raise AssertionError(what) from error


def main(state_dir: Path, seed: int) -> int:
    """Print a table; 0 when healthy motors got none, and nine of ten of each fault were told as what they are."""
    state = state_dir / "commutation.json"
    done: dict[str, list[str]] = json.loads(state.read_text()) if state.exists() else {}
    start = time.process_time()
    good = True
    for fault in (NONE, *FAULTS):
        count = HEALTHY if fault is NONE else FAULTY
        if fault.name not in done:
            done[fault.name] = _wrong(fault, seed, count)
            state.write_text(json.dumps(done))
        wrong = done[fault.name]
        good &= not wrong if fault is NONE else len(wrong) <= count - _LEAST * count
        print(f"{fault.name:20} {count - len(wrong):3d} of {count} right  {'; '.join(wrong)[:150]}", flush=True)
    print(f"{time.process_time() - start:.0f} s of CPU")
    return 0 if good else 1


def _wrong(fault: Fault, seed: int, count: int) -> list[str]:
    """Those that were told as something else, or not at all."""
    wrong = []
    for number in range(count):
        its, _, direction = told(fault, seed * 1000 + number)
        if its != ([(fault.key_of(direction), fault.about)] if fault.key else []):
            wrong.append(f"{number}: {its}")
    return wrong
