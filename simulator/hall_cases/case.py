"""One case of Hall wiring: a healthy motor drawn from a seed, its controls, and what a board sees of it.

`hand_turn` makes two or three seconds in a few milliseconds (turned_rotor.py), `driven` plays the whole model of
six_step.py. Controls are those of brushless.py and mean the same in both. Sizes of tolerances and faults: common
practice, no published source. All of it is invented and proves nothing about a real motor.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from math import pi
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from simulator.capture import Capture
from simulator.hall_cases.motion import Way, path_deg
from simulator.motors.brushless import MODEL, Parameters, at_rest, constants, usual
from simulator.motors.motor import advance
from simulator.motors.turned_rotor import take_place, turn_rotor
from simulator.physics.control import changed, initial
from simulator.physics.warmth import Thermal

Floats: TypeAlias = NDArray[np.float64]
Controls: TypeAlias = Mapping[str, float | str]
EDGES_MAX = 400_000
RATE_HZ = 20_000.0
HEALTHY = {"place_deg": 0.8, "width_deg": 1.0, "magnets_deg": 0.6, "late_deg": 1.0}  # RMS, electrical
_THERMAL = Thermal(winding_j_k=60, case_j_k=250, winding_to_case_k_w=0.8, case_to_air_k_w=1.8)
_BY_NAME = {control.name: control for control in MODEL.controls}


@dataclass(frozen=True, slots=True)
class HallMotor:
    """One motor: its parameters, the seed of its scatter and of what is random on its lines, and its own controls."""

    parameters: Parameters
    seed: int
    controls: Mapping[str, float] = field(default_factory=dict)

    def with_controls(self, controls: Controls) -> dict[str, float]:
        """Every control, those of `controls` by word or number. ValueError: a wrong name or value.

        Timing adds to that of the motor; what else is said takes the place of its own.
        """
        said = {name: _BY_NAME[name].of(value) if name in _BY_NAME else 0.0 for name, value in controls.items()}
        if "hall_late_deg" in said:
            said["hall_late_deg"] += self.controls.get("hall_late_deg", 0.0)
        usually = {**initial(MODEL.controls), **usual(self.parameters), **self.controls}
        return changed(usually, said, MODEL.controls)


@dataclass(frozen=True, slots=True)
class HallRun:
    """What a board sees of a case, and the truth.

    Edges (edges,): seconds since the first sample and levels 4 C + 2 B + A from then on, `start_levels` before the
    first. Voltages of the leads on U, V, W against a common point and currents (3, samples), in V and A.
    """

    rate_hz: float
    start_levels: int
    edge_times_s: Floats
    edge_levels: NDArray[np.uint8]
    voltages_v: Floats
    currents_a: Floats
    speed_rpm: Floats  # (samples,), truth
    electrical_deg: Floats  # (samples,), truth, not wrapped

    @property
    def line_voltages_v(self) -> Floats:
        """v_UV and v_VW, (2, samples)."""
        return self.voltages_v[:2] - self.voltages_v[1:]

    def sampled_levels(self, rate_hz: float | None = None) -> NDArray[np.uint8]:
        """What a board without time stamps sees: the levels at each of its samples, usually those of the voltages."""
        rate_hz = rate_hz or self.rate_hz
        times = np.arange(round(self.speed_rpm.size * rate_hz / self.rate_hz)) / rate_hz
        levels = np.concatenate((np.array([self.start_levels], np.uint8), self.edge_levels))
        return levels[np.searchsorted(self.edge_times_s, times, side="right")]


def healthy_motor(seed: int) -> HallMotor:
    """A healthy motor: 2 to 15 pole pairs, a back-EMF from trapezoid to sine, usual scatter of sensors and magnets."""
    draw = np.random.default_rng((seed, 7))
    ohm = float(np.exp(draw.uniform(np.log(0.05), np.log(0.3))))
    parameters = Parameters(
        pole_pairs=int(draw.integers(2, 16)),
        phase_ohm=ohm,
        phase_h=ohm * float(draw.uniform(1.2e-3, 2.4e-3)),
        back_emf_v_s=0.5 * float(np.exp(draw.uniform(np.log(0.04), np.log(0.2)))),
        inertia_kg_m2=float(draw.uniform(1e-4, 6e-4)),
        dry_friction_n_m=float(draw.uniform(0.01, 0.04)),
        friction_n_m_s=float(draw.uniform(2e-5, 1e-4)),
        source_v=12.0,
        source_ohm=0.05,
        source_limit_a=3.0,
        source_takes_back=False,
        diode_v=0.7,
        link_f=0.001,
        thermal=_THERMAL,
        emf_sine=float(draw.uniform(0, 1)),
        hall_hysteresis_deg=float(draw.uniform(0.3, 2)),
        hall_place_deg=HEALTHY["place_deg"],
        hall_width_deg=HEALTHY["width_deg"],
        magnets_deg=HEALTHY["magnets_deg"],
    )
    return HallMotor(parameters, seed, {"hall_late_deg": float(draw.normal(0, HEALTHY["late_deg"]))})


def hand_turn(
    motor: HallMotor,
    controls: Controls | None = None,
    way: Way = "forward",
    *,
    seed: int = 0,
    seconds: float = 2.5,
    rate_hz: float = RATE_HZ,
    rpm: tuple[float, float] = (60.0, 150.0),
    noise_v: float = 0.0,
    step_v: float = 0.0,
    clock_s: float = 0.0,
    loaded: bool = False,
) -> HallRun:
    """The motor off its bridge, turned by hand, or let go from the upper of `rpm` (coast). ValueError as for controls.

    `seed` draws strokes, the place where it stood and the noise; `noise_v` is RMS, `step_v` and `clock_s` what the
    board rounds to (edges down, as a capture unit does; 0: nothing). Pulses need current, or `loaded`.
    """
    draw = np.random.default_rng((seed, 8))
    said = motor.with_controls({"bridge_off": 1, **(controls or {})})
    case = constants(motor.parameters, said)
    state = at_rest(motor.parameters, motor.seed)
    path = path_deg(way, seconds, rate_hz, rpm, motor.parameters.pole_pairs, draw)
    volts, times, levels = np.empty((3, path.size - 1)), np.empty(EDGES_MAX), np.empty(EDGES_MAX, np.uint8)
    start = take_place(case, state, path[0], loaded)
    count = turn_rotor(case, state, path, rate_hz, loaded, volts, times, levels)
    seen_s, seen = Capture(seed, start).seen(times[:count].copy(), levels[:count].copy(), seconds, said)
    if noise_v:
        volts += noise_v * draw.standard_normal(volts.shape)
    if step_v:
        volts = step_v * np.round(volts / step_v)
    if clock_s:
        seen_s = clock_s * np.floor(seen_s / clock_s)
    speed_rpm = np.diff(path) * rate_hz / (6.0 * motor.parameters.pole_pairs)
    return HallRun(rate_hz, start, seen_s, seen, volts, np.zeros_like(volts), speed_rpm, path[:-1])


def driven(
    motor: HallMotor,
    controls: Controls | None = None,
    *,
    seconds: float = 2.0,
    rate_hz: float = RATE_HZ,
    start_deg: float = 60.0,
) -> HallRun:
    """The motor on its bridge at 12 V and full duty, limited by its source; `start_deg`: where it stands."""
    said = motor.with_controls({"supply_on": 1, "duty": 1, **(controls or {})})
    case, state = constants(motor.parameters, said), at_rest(motor.parameters, motor.seed)
    start = take_place(case, state, start_deg, False)
    block = advance(MODEL, case, state, 0, round(seconds * rate_hz), rate_hz)
    count = int(block.edge_counts[0])
    wire = block.edge_times_s[0, :count], block.edge_states[0, :count]
    times, levels = Capture(motor.seed, start).seen(*wire, seconds, said)
    return HallRun(
        rate_hz,
        start,
        times,
        levels,
        block.values[0, :3],
        block.values[0, [MODEL.signals.index(name) for name in ("u_a", "v_a", "w_a")]],
        block.speed_rad_s[0] * 30 / pi,
        np.degrees(block.angle_rad[0]) * motor.parameters.pole_pairs,
    )
