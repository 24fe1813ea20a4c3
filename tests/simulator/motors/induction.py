"""Figures of single-phase induction motors as the reference tables name them, their equations solved in complex
numbers, and motors from a book's impedances."""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from math import pi
from typing import Any, TypeAlias

import numpy as np
import pytest

from simulator.motors.motor import Model
from simulator.motors.permanent_split_capacitor import CABIN_VENTILATOR
from simulator.motors.single_phase_motor import Parameters
from simulator.physics.stepping import Block
from tests.simulator.motors.cases import Floats, batch, rms, rpm, run

RATE_HZ = 20_000.0
SUPPLY_V, CAPACITOR_V, LINE_A, AUXILIARY_A = range(4)
START_CLOSED, CUTOUT_CLOSED, WINDING_C, CASE_C, START_CAPACITOR_V, LOAD_N_M = range(6)
Row: TypeAlias = tuple[str, Parameters, Mapping[str, float], tuple[float | None, ...]]  # None: not in the table


def figures(block: Block, k: int, motor: Parameters, sign: float, window: slice) -> dict[str, float]:
    """What the tables give of case `k`, over whole cycles; `sign` is the auxiliary's (0: a ring)."""
    u, capacitor_v, line_a, auxiliary_a = block.values[k, :, window]
    w, torque = block.speed_rad_s[k, window], block.torque_n_m[k, window]
    power, out = float(np.mean(u * line_a)), float(np.mean(block.truths[k, LOAD_N_M, window] * w))
    return {
        "speed_rpm": float(rpm(w)),
        "slip_percent": 100 - float(rpm(w)) * motor.pole_pairs / motor.mains_hz / 60 * 100,
        "I": float(rms(line_a)),
        "P": power,
        "PF": power / float(rms(u) * rms(line_a)),
        "I_main": float(rms(line_a - sign * auxiliary_a - u / motor.core_ohm)),
        "I_aux": float(rms(auxiliary_a)),
        "U_cap": float(rms(capacitor_v)),
        "T_air": float(np.mean(torque)),
        "P_out": out,
        "eff": out / power,
        "T_puls": float(np.ptp(torque)) / 2,
    }


def check_points(
    model: Model, columns: str, rows: Sequence[Row], seconds: float, speeds: Mapping[str, float] | None = None
) -> Block:
    """Every figure of every row, 2 %, in the last 0.6 s; `speeds`: rows that are turning at the start, in r/min."""
    cases, states = batch(model, [(motor, controls) for _, motor, controls, _ in rows])
    for name, rpm_there in (speeds or {}).items():
        states["speed_rad_s"][[row[0] == name for row in rows]] = rpm_there * pi / 30
    block = run(model, cases, states, seconds, RATE_HZ)
    for k, (name, motor, _, expected) in enumerate(rows):
        found = figures(block, k, motor, float(cases["sign"][k]), slice(-12_000, None))
        for column, figure in zip(columns.split(), expected, strict=True):
            if figure is not None:
                close = 20 if column == "speed_rpm" and abs(figure) < 20 else 1e-6
                assert found[column] == pytest.approx(figure, rel=0.02, abs=close), f"{name}: {column}"
    return block


def cycle_rms(samples: Floats, begin: int, cycle: int = 400) -> float:
    """RMS of one supply cycle, 50 Hz at 20 kS/s."""
    return float(rms(samples[begin : begin + cycle]))


def phasor(samples: Floats, hertz: float, rate_hz: float) -> complex:
    """RMS phasor against cos, over whole cycles."""
    n = np.arange(samples.size)
    return complex(np.sqrt(2) * np.mean(samples * np.exp(-2j * pi * hertz * n / rate_hz)))


def phasors(
    motor: Parameters, w: float, behind: complex, source: complex = 0
) -> tuple[complex, complex, float, float, float]:
    """I_m, I_x, mean torque, amplitude of its pulsation, mean power from the source, at a speed held at `w`.

    d/dt becomes j 2 pi f in the equations of both windings and both axes of the cage; peak values are RMS. `behind` is
    the impedance of the branches behind the auxiliary, `source` that of the supply.
    """
    j1, we = 2j * pi * motor.mains_hz, motor.pole_pairs * w
    a, g, LM = motor.turns_ratio, motor.auxiliary_angle_rad, motor.magnetizing_h
    c, s, Lr = a * np.cos(g), a * np.sin(g), motor.rotor_leakage_h + LM
    main = motor.main_ohm + j1 * (motor.main_leakage_h + LM)
    auxiliary = motor.auxiliary_ohm + j1 * (motor.auxiliary_leakage_h + a * a * LM) + behind
    fed = 0.0 if motor.ring else 1.0
    rotor = motor.rotor_ohm + j1 * Lr
    Z = np.array(
        [
            [main + source, j1 * c * LM + fed * source, j1 * LM, 0],
            [j1 * c * LM + fed * source, auxiliary + fed * source, j1 * c * LM, j1 * s * LM],
            [j1 * LM, j1 * c * LM + we * s * LM, rotor, we * Lr],
            [-we * LM, j1 * s * LM - we * c * LM, -we * Lr, rotor],
        ]
    )
    u = motor.mains_v
    Im, Ix, Ia, Ib = np.linalg.solve(Z, np.array([u, fed * u, 0, 0], dtype=complex))
    A, B = Im + c * Ix, s * Ix
    mean = motor.pole_pairs * LM * (Ia * np.conj(B) - Ib * np.conj(A)).real
    pulsation = motor.pole_pairs * LM * abs(Ia * B - Ib * A)
    return Im, Ix, mean, pulsation, u * (Im + fed * Ix).real


def series(farad: float, ohm: float) -> complex:
    return ohm + 1 / (2j * pi * 50 * farad)


def of_impedances(main: complex, auxiliary: complex, volts: float, hertz: float, **other: Any) -> Parameters:
    """A motor at rest whose windings have these impedances: its cage is coupled so loosely that it takes nothing."""
    w = 2 * pi * hertz
    coupled_h = 1e-7
    return replace(
        CABIN_VENTILATOR,
        turns_ratio=1,
        main_ohm=main.real,
        auxiliary_ohm=auxiliary.real,
        main_leakage_h=main.imag / w - coupled_h,
        auxiliary_leakage_h=auxiliary.imag / w - coupled_h,
        rotor_ohm=1.0,
        rotor_leakage_h=1e-3,
        magnetizing_h=coupled_h,
        core_ohm=1e12,
        run_capacitor_uf=0.0,
        mains_v=volts,
        mains_hz=hertz,
        **other,
    )
