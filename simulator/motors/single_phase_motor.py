"""What single-phase induction motors have in common beside their equations: parameters, controls, records of constants.

Equations: single_phase.py; their loop: single_phase_run.py, its records: single_phase_records.py; start devices:
start_device.py. The channel `capacitor_v` sits across the run capacitor where there is one, else across the start
capacitor, else across the start contact; across the gap where its capacitor has no connection. A capacitor's control
in uF is its capacitance now: one that ages keeps its voltage. It makes records out of parameters and controls; it never
steps anything.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from math import cos, inf, pi, sin
from typing import Any

import numpy as np

from simulator.motors.motor import Model
from simulator.motors.opening_spike import OpeningSpike
from simulator.motors.single_phase import AUXILIARY, LINE, RUN, START, circuit, magnetic_j
from simulator.motors.single_phase_records import CONSTANTS, STATE
from simulator.motors.single_phase_run import SIGNALS, TRUTHS, run
from simulator.motors.start_device import CENTRIFUGAL, PTC_AMBIENT_C, RELAY
from simulator.physics.control import Control, initial, ranged
from simulator.physics.index_pulse import FROM_ZERO, shaft_level
from simulator.physics.load import LOAD_CONTROLS, fill_load
from simulator.physics.mains import MAINS_CONTROLS, fill_mains
from simulator.physics.warmth import WARMTH_CONTROLS, Thermal, cooled, fill_warmth

LONGEST_STEP_S = 100e-6  # half of it changes nothing in four digits
REST_ANGLE_RAD = pi / 2  # the middle of the pulse, so that a shaft at rest stands on no edge
SHORT_OHM = 0.01  # in place of a shorted capacitor and its ESR
ASIDE = 20.0  # times the auxiliary's resistance: where a PTC counts as open

SUPPLY_CONTROLS = (
    Control("supply_on", 0, 0, 1, "line switch; opens at the next zero of the current"),
    *MAINS_CONTROLS,
)
CUTOUT_CONTROLS = (Control("cutout_fitted", 0, 0, 1, "a thermal cut-out in the line, which closes again by itself"),)
AUXILIARY_CONTROLS = (
    Control("auxiliary_open", 0, 0, 1, "lead of the auxiliary winding broken; opens at the next zero of its current"),
    Control("auxiliary_reversed", 0, 0, 1, "its ends exchanged; takes hold while the motor carries no current"),
)
RUN_CONTROLS = (
    Control("run_capacitor_uf", 0, 0, 2000, "run capacitor as it is now; 0: none"),
    Control("run_capacitor_shorted", 0, 0, 1, "10 milliohm in its place"),
    Control("run_capacitor_open", 0, 0, 1, "no connection in it"),
)
MAIN_LEAD_CONTROLS = (
    Control("capacitor_in_main", 0, 0, 1, "it stands in the main winding's lead; takes hold while no current flows"),
)
START_CONTROLS = (
    Control("start_device", 1, 0, 3, "0 none: always closed, 1 centrifugal switch, 2 current relay, 3 PTC"),
    Control("switch_opens_rpm", 1e4, 10, 1e5, "centrifugal switch, either way round"),
    Control("switch_closes_rpm", 10, 0, 1e5, "the same while it coasts"),
    Control("switch_stuck_closed", 0, 0, 1, "contact of switch or relay does not open"),
    Control("switch_stuck_open", 0, 0, 1, "contact of switch or relay does not close"),
    Control("switch_worn", 0, 0, 1, "contact of the centrifugal switch chatters when it opens"),
    Control("contact_chops_a", 0, 0, 20, "current that the opening contact chops: a spike on the channel across it"),
)
START_CAPACITOR_CONTROLS = (
    Control("start_capacitor_uf", 0, 0, 2000, "start capacitor as it is now"),
    Control("start_capacitor_shorted", 0, 0, 1, "10 milliohm in its place"),
    Control("start_capacitor_open", 0, 0, 1, "no connection in it"),
)
SHAFT_CONTROLS = (
    Control("push_n_m", 0, -100, 100, "torque of a hand on the shaft, in either direction"),
    *LOAD_CONTROLS,
)
_NOT_FITTED = initial(
    (*AUXILIARY_CONTROLS, *RUN_CONTROLS, *MAIN_LEAD_CONTROLS, *START_CONTROLS, *START_CAPACITOR_CONTROLS)
)


_DEVICE_RANGES = dict.fromkeys(("ptc_cold_ohm", "ptc_hot_ohm", "ptc_width_k", "ptc_j_k", "ptc_k_w"), (1e-06, inf))
_RANGES = {
    "pole_pairs": (1, 100),
    "turns_ratio": (1e-3, 1e3),
    "main_leakage_h": (1e-9, 1e3),
    "auxiliary_leakage_h": (1e-9, 1e3),
    "rotor_leakage_h": (1e-9, 1e3),
    "magnetizing_h": (1e-9, 1e4),
    "core_ohm": (1e-3, inf),
    "inertia_kg_m2": (1e-9, 1e12),
}


@dataclass(frozen=True, slots=True)
class StartDevice:
    """Figures of the start devices that may be fitted. Speeds of the switch are the domain's; the rest is invented."""

    switch_opens_rpm: float
    switch_closes_rpm: float
    pick_up_a: float
    drop_out_a: float
    ptc_cold_ohm: float
    ptc_j_k: float
    ptc_hot_ohm: float = 20_000.0
    ptc_c: float = 140.0
    ptc_width_k: float = 6.0
    ptc_k_w: float = 40.0

    def __post_init__(self) -> None:
        """ValueError: what the model cannot follow."""
        ranged(self, _DEVICE_RANGES)


@dataclass(frozen=True, slots=True)
class Parameters:
    """An invented motor: it proves nothing about real ones. Cage referred to the main winding."""

    pole_pairs: int
    turns_ratio: float  # auxiliary to main
    auxiliary_angle_rad: float
    main_ohm: float
    auxiliary_ohm: float
    rotor_ohm: float
    main_leakage_h: float
    auxiliary_leakage_h: float
    rotor_leakage_h: float
    magnetizing_h: float
    core_ohm: float
    inertia_kg_m2: float
    friction_n_m_s: float
    thermal: Thermal
    fan_n_m_s2: float = 0.0
    ring: bool = False  # the auxiliary is short-circuited in itself
    run_capacitor_uf: float = 0.0  # 0: none
    run_capacitor_ohm: float = 0.0
    start: StartDevice | None = None
    start_capacitor_uf: float = 0.0  # 0: a wire behind the start device
    start_capacitor_ohm: float = 0.0
    cutout_opens_c: float = 120.0
    cutout_closes_c: float = 80.0
    mains_v: float = 230.0
    mains_hz: float = 50.0
    load: Mapping[str, float] = field(default_factory=dict)  # controls of its usual load

    def __post_init__(self) -> None:
        """ValueError: what the model cannot follow."""
        ranged(self, _RANGES)


def for_120_v_60_hz(motor: Parameters) -> Parameters:
    """A 230 V 50 Hz motor wound for 120 V 60 Hz: the same power and per-unit values, speed x 1.2, torque / 1.2."""
    r, rate = 120 / 230, 60 / 50
    start = motor.start and replace(
        motor.start,
        switch_opens_rpm=motor.start.switch_opens_rpm * rate,
        switch_closes_rpm=motor.start.switch_closes_rpm * rate,
        pick_up_a=motor.start.pick_up_a / r,
        drop_out_a=motor.start.drop_out_a / r,
        ptc_cold_ohm=motor.start.ptc_cold_ohm * r**2,
        ptc_hot_ohm=motor.start.ptc_hot_ohm * r**2,
    )
    return replace(
        motor,
        **{name: getattr(motor, name) * r**2 for name in motor.__slots__ if name.endswith("_ohm")},
        **{name: getattr(motor, name) * r**2 / rate for name in motor.__slots__ if name.endswith("_h")},
        **{name: getattr(motor, name) / rate / r**2 for name in motor.__slots__ if name.endswith("_uf")},
        friction_n_m_s=motor.friction_n_m_s / rate**2,
        fan_n_m_s2=motor.fan_n_m_s2 / rate**3,
        start=start,
        mains_v=120.0,
        mains_hz=60.0,
        load={name: value / rate if name.endswith("_n_m") else value for name, value in motor.load.items()},
    )


def usual(motor: Parameters) -> dict[str, float]:
    """The supply, the capacitors and the load that belong to a motor."""
    given: dict[str, float] = {"mains_v": motor.mains_v, "mains_hz": motor.mains_hz, **motor.load}
    if motor.run_capacitor_uf:
        given["run_capacitor_uf"] = motor.run_capacitor_uf
    if motor.start is not None:
        given["switch_opens_rpm"] = motor.start.switch_opens_rpm
        given["switch_closes_rpm"] = motor.start.switch_closes_rpm
        if motor.start_capacitor_uf:
            given["start_capacitor_uf"] = motor.start_capacitor_uf
    return given


def constants(motor: Parameters, controls: Mapping[str, float]) -> Any:
    """One case, (1,) of single_phase_records.CONSTANTS: the motor with its controls as they stand."""
    now = {**_NOT_FITTED, **controls}
    case = np.zeros(1, CONSTANTS)
    fill_mains(case["mains"][0], now, now["mains_v"])
    fill_load(
        case["load"][0], now, inertia_kg_m2=motor.inertia_kg_m2, viscous_n_m_s=motor.friction_n_m_s,
        fan_n_m_s2=motor.fan_n_m_s2,
    )  # fmt: skip
    fill_warmth(case["warmth"][0], motor.thermal, now)
    _fill_windings(case, motor)
    _fill_branches(case, motor, now)
    if motor.start is not None:
        _fill_start(case, motor, motor.start, now)
    case["sign"] = 0 if motor.ring else -1 if now["auxiliary_reversed"] > 0 else 1
    case["in_main"] = now["capacitor_in_main"] > 0
    case["push_n_m"] = 0 if now["jammed"] > 0 or now["turned_by_hand"] > 0 else now["push_n_m"]
    case["cutout_fitted"] = now["cutout_fitted"] > 0
    case["cutout_opens_c"], case["cutout_closes_c"] = motor.cutout_opens_c, motor.cutout_closes_c
    return case


def _fill_windings(case: Any, motor: Parameters) -> None:
    a, g, LM = motor.turns_ratio, motor.auxiliary_angle_rad, motor.magnetizing_h
    for name in ("pole_pairs", "magnetizing_h", "main_ohm", "auxiliary_ohm", "rotor_ohm", "core_ohm"):
        case[name] = getattr(motor, name)
    case["turns_cos"], case["turns_sin"], case["rotor_h"] = a * cos(g), a * sin(g), motor.rotor_leakage_h + LM
    left_h = LM - LM**2 / (motor.rotor_leakage_h + LM)
    case["stator_h"] = motor.main_leakage_h + left_h, a * cos(g) * left_h, motor.auxiliary_leakage_h + a * a * left_h


def _fill_branches(case: Any, motor: Parameters, now: Mapping[str, float]) -> None:
    starts, runs = motor.start is not None or motor.ring, now["run_capacitor_uf"] > 0
    case["run_f"], case["run_ohm"] = now["run_capacitor_uf"] * 1e-6, motor.run_capacitor_ohm
    if now["run_capacitor_shorted"] > 0:
        case["run_f"], case["run_ohm"] = 0, SHORT_OHM
    case["start_f"], case["start_ohm"] = now["start_capacitor_uf"] * 1e-6, motor.start_capacitor_ohm
    if now["start_capacitor_shorted"] > 0:
        case["start_f"], case["start_ohm"] = 0, SHORT_OHM
    case["start_broken"] = now["start_capacitor_open"] > 0
    case["wanted"] = (
        LINE * (now["supply_on"] > 0)
        + AUXILIARY * (now["auxiliary_open"] == 0)
        + START * (starts and now["start_capacitor_open"] == 0)
        + RUN * (runs and now["run_capacitor_open"] == 0)
    )
    case["starts"], case["across"] = START if starts else RUN, RUN if runs else START


def _fill_start(case: Any, motor: Parameters, start: StartDevice, now: Mapping[str, float]) -> None:
    case["device"] = round(now["start_device"])
    if case["device"] in (CENTRIFUGAL, RELAY):
        case["stuck"] = int(now["switch_stuck_closed"] > 0) or -int(now["switch_stuck_open"] > 0)
    case["worn"] = now["switch_worn"] > 0
    case["opens_rad_s"] = now["switch_opens_rpm"] * pi / 30
    case["closes_rad_s"] = now["switch_closes_rpm"] * pi / 30
    case["aside_ohm"] = ASIDE * motor.auxiliary_ohm
    for name in StartDevice.__slots__:
        if not name.startswith("switch"):
            case[name] = getattr(start, name)


def at_rest(motor: Parameters, seed: int = 0) -> Any:
    """The state of a motor that has stood for long, (1,) of single_phase_records.STATE; the shaft pulse is high."""
    state = np.zeros(1, STATE)
    state["angle_rad"], state["winding_c"], state["case_c"] = REST_ANGLE_RAD, 20, 20
    state["sign"], state["cutout"], state["start_wanted"] = 0 if motor.ring else 1, 1, 1
    state["ptc_c"], state["draws"] = PTC_AMBIENT_C, np.random.default_rng(seed).random(16)
    return state


def stored_j(case: Any, state: Any) -> float:
    """Energy in fields, capacitors and shaft."""
    y = state["y"]
    fields = magnetic_j(circuit(case, state, int(state["closed"]), 0.0, 1.0), (y[0], y[1], y[2], y[3], y[4], y[5]))
    capacitors = case["start_f"] * y[4] ** 2 + case["run_f"] * y[5] ** 2
    return float(fields + 0.5 * (capacitors + case["load"]["inertia_kg_m2"] * state["speed_rad_s"] ** 2))


def renewed(motor: Parameters, case: Any, state: Any) -> None:
    """Cold, its capacitors empty, its start device and its cut-out as they are at rest."""
    cooled(case["warmth"], state)
    state["ptc_c"], state["cutout"], state["waited_s"] = PTC_AMBIENT_C, 1, 0.0
    state["energy_j"][1] += 0.5 * np.sum(state["farads"] * state["y"][4:] ** 2)
    state["y"][4:] = 0.0
    state["start_wanted"] = case["device"] != RELAY
    for name in ("moved", "square_a2", "square_count", "drawn", "bounces", "pause_s", "flicker_rad", "swing_rad"):
        state[name] = 0


def _spike(motor: Parameters, rate_hz: float, random: np.random.Generator) -> OpeningSpike:
    return OpeningSpike(rate_hz, random, henry=motor.auxiliary_leakage_h + motor.turns_ratio**2 * motor.rotor_leakage_h)


def model(sets: Mapping[str, Parameters], *controls: tuple[Control, ...]) -> Model:
    """The type that has these motors on the bench, with what can be changed in its auxiliary circuit."""
    known = (*SUPPLY_CONTROLS, *(one for some in controls for one in some), *CUTOUT_CONTROLS, *SHAFT_CONTROLS)
    return Model(
        signals=SIGNALS,
        inputs=("shaft_pulse",),
        truths=TRUTHS,
        controls=(*known, *WARMTH_CONTROLS),
        parameter_sets=sets,
        longest_step_s=LONGEST_STEP_S,
        run=run,
        constants=constants,
        at_rest=at_rest,
        stored_j=stored_j,
        level=shaft_level(FROM_ZERO),
        renewed=renewed,
        usual=usual,
        disturbance=_spike if any(one.name == "contact_chops_a" for one in known) else None,
    )
