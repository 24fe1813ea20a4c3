"""Three motors against integrators that are not ours: scipy on equations written anew, ngspice on circuits.

The equations are put another way than in the models: the three-phase motor as six coils whose mutual inductances turn
with the rotor, the others by fluxes and the inverse of their inductances. Numbers of the motors are typed anew too.
"""

from math import pi
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from simulator.motors import capacitor_start, permanent_magnet_dc, three_phase_induction
from simulator.physics.stepping import Block
from tests.firmware_protocol.firmware.builds import need
from tests.simulator.motors import netlists
from tests.simulator.motors.cases import Floats, batch, rms, run

RATE_HZ = 20_000.0


def model_run(module: Any, seconds: float, steps: int | None = None, **controls: float) -> Block:
    """One motor of the bench from rest, switched on at zero voltage, rising; its own step unless `steps` says other."""
    cases, states = batch(module.MODEL, [(next(iter(module.MODEL.parameter_sets.values())), controls)])
    return run(module.MODEL, cases, states, seconds, RATE_HZ, steps)


def t95(times: Floats, speed: Floats) -> float:
    """When it first passes 95 % of its last speed."""
    return float(times[np.argmax(speed > 0.95 * speed[-1])])


def apart(ours: Floats, theirs: Floats) -> float:
    """The largest difference of two waveforms against the larger one's peak."""
    return float(np.abs(ours - theirs).max() / np.abs(theirs).max())


SIX = np.arange(3) * 2 * pi / 3


def six_coils(theta: float) -> tuple[Floats, Floats]:
    """Inductances of three stator and three rotor coils at this electrical angle, and their slope with it."""
    leak, common = 0.0124, 0.337 * 2 / 3
    same = common * np.cos(SIX[:, None] - SIX[None, :])
    lag = theta + SIX[None, :] - SIX[:, None]
    between, slope, none = common * np.cos(lag), -common * np.sin(lag), np.zeros((3, 3))
    own = same + leak * np.eye(3)
    return np.block([[own, between], [between.T, own]]), np.block([[none, slope], [slope.T, none]])


def test_three_phase_start_as_six_coils_under_scipy() -> None:
    ohm = np.repeat([6.3, 4.25], 3)

    def slope(t: float, y: Floats) -> Floats:
        L, dL = six_coils(2 * y[7])
        i = np.linalg.solve(L, y[:6])
        u = np.zeros(6)
        u[:3] = 400 * np.sqrt(2 / 3) * np.sin(2 * pi * 50 * t - SIX)
        torque = 0.5 * 2 * (i @ dL @ i)
        w = y[6]
        return np.array([*(u - ohm * i), (torque - 10 * np.tanh(w / 0.5) - 0.0013 * w) / 0.012, w])

    times = np.arange(round(0.3 * RATE_HZ)) / RATE_HZ
    found = solve_ivp(slope, (0, 0.3), np.zeros(8), "DOP853", times, rtol=1e-7, atol=1e-9, max_step=2e-3)
    currents = np.array([np.linalg.solve(six_coils(2 * y[7])[0], y[:6])[:3] for y in found.y.T])
    core = 400 * np.sqrt(2 / 3) * np.sin(2 * pi * 50 * times[:, None] - SIX) / 2200
    block = model_run(three_phase_induction, 0.3, load_torque_n_m=10, load_factor=0)
    assert apart(block.values[0, 3:], (currents + core).T) < 5e-4
    assert apart(block.speed_rad_s[0], found.y[6]) < 5e-4
    assert t95(times, block.speed_rad_s[0]) == pytest.approx(t95(times, found.y[6]), abs=2 / RATE_HZ)


def test_magnet_motor_start_under_scipy() -> None:
    def slope(t: float, y: Floats) -> Floats:
        i, w, angle = y
        emf, ohm = 0.0259 * (1 + 0.01 * np.cos(12 * angle)), 0.42 * (1 + 0.1 * np.cos(12 * angle))
        against = 0.005 * np.tanh(w / 0.5) + 3e-6 * w + 7.127e-7 * w * abs(w)
        voltage = 12 - ohm * i - emf * w - 0.6 * np.tanh(i / 0.05)
        return np.array([voltage / 0.00025, (emf * i - against) / 2.2e-5, w])

    times = np.arange(round(0.1 * RATE_HZ)) / RATE_HZ
    start = [0.0, 0.0, pi / 2]  # 12 x pi/2 is whole turns of the ripple: as if from angle 0
    found = solve_ivp(slope, (0, 0.1), start, "LSODA", times, rtol=1e-8, atol=1e-10)
    block, fine = model_run(permanent_magnet_dc, 0.1), model_run(permanent_magnet_dc, 0.1, 16)
    assert apart(fine.values[0, 1], found.y[0]) < 1e-3
    assert apart(fine.speed_rad_s[0], found.y[1]) < 1e-4
    # In its own step the brushes' drop, steep at no current, delays the current by half a sample as it sets in.
    assert np.abs(block.values[0, 1]).max() == pytest.approx(found.y[0].max(), rel=5e-3)
    assert apart(block.speed_rad_s[0], found.y[1]) < 5e-3
    assert t95(times, block.speed_rad_s[0]) == pytest.approx(t95(times, found.y[1]), abs=2 / RATE_HZ)


# The compressor: main, auxiliary (minus 90 degrees, 1.5 x the turns), cage on both axes.
COILS = np.array(
    [
        [0.0058 + 0.267, 0, 0.267, 0],
        [0, 0.0131 + 2.25 * 0.267, 0, -1.5 * 0.267],
        [0.267, 0, 0.0058 + 0.267, 0],
        [0, -1.5 * 0.267, 0, 0.0058 + 0.267],
    ]
)


def compressor(load_n_m: float, coils: tuple[int, ...]) -> Any:
    """Slopes of (psi of these coils, u_C, speed); coils 0 main, 1 auxiliary, 2 and 3 cage."""
    kept = list(coils)
    inverse = np.linalg.inv(COILS[np.ix_(kept, kept)])

    def slope(t: float, y: Floats) -> Floats:
        i, psi = np.zeros(4), np.zeros(4)
        psi[kept] = y[:-2]
        i[kept] = inverse @ y[:-2]
        u, w = 230 * np.sqrt(2) * np.sin(2 * pi * 50 * t), y[-1]
        d = np.array(
            [u - 2.5 * i[0], u - y[-2] - 6.5 * i[1], -3.58 * i[2] - 2 * w * psi[3], -3.58 * i[3] + 2 * w * psi[2]]
        )
        torque = 2 * 0.267 * (-1.5 * i[2] * i[1] - i[3] * i[0])
        return np.array([*d[kept], i[1] / 80e-6, (torque - load_n_m * np.tanh(w / 0.5) - 0.0008 * w) / 0.03])

    return slope


def test_capacitor_start_with_its_switch_under_scipy() -> None:
    seconds, load = 0.5, 6.1
    both, alone = (0, 1, 2, 3), (0, 2, 3)
    inverse = np.linalg.inv(COILS)

    def fast(t: float, y: Floats) -> float:
        return float(y[-1] - 1125 * pi / 30)

    fast.terminal = True  # type: ignore[attr-defined]  # the way solve_ivp asks for it

    def zero(t: float, y: Floats) -> float:
        return float(inverse[1] @ y[:4])

    zero.terminal = True  # type: ignore[attr-defined]  # the way solve_ivp asks for it
    exact: dict[str, Any] = {"method": "DOP853", "rtol": 1e-8, "atol": 1e-10, "max_step": 2e-3, "dense_output": True}
    first = solve_ivp(compressor(load, both), (0, seconds), np.zeros(6), events=fast, **exact)
    second = solve_ivp(compressor(load, both), (first.t[-1], seconds), first.y[:, -1], events=zero, **exact)
    opened_s, y = float(second.t[-1]), second.y[:, -1]
    third = solve_ivp(compressor(load, alone), (opened_s, seconds), y[[0, 2, 3, 4, 5]], **exact)
    times = np.arange(round(seconds * RATE_HZ)) / RATE_HZ
    late = times >= opened_s
    early = np.where((times <= first.t[-1])[None, :], first.sol(times), second.sol(np.maximum(times, first.t[-1])))
    line = (inverse @ early[:4])[:2].T @ np.array([1.0, 1.0])
    left = np.linalg.inv(COILS[np.ix_(alone, alone)]) @ third.sol(np.maximum(times, opened_s))[:3]
    line = np.where(late, left[0], line) + 230 * np.sqrt(2) * np.sin(2 * pi * 50 * times) / 600
    speed = np.where(late, third.sol(np.maximum(times, opened_s))[-1], early[-1])
    block = model_run(capacitor_start, seconds, load_torque_n_m=load)
    opened = np.argmax(block.truths[0, 0] == 0) / RATE_HZ
    assert opened == pytest.approx(opened_s, abs=2 / RATE_HZ)
    away = np.abs(times - opened_s) > 2 / RATE_HZ  # the sample in which it steps
    # The auxiliary's sense: here it leads from minus 90 degrees, so currents add in the line as they stand.
    assert apart(block.values[0, 2, away], line[away]) < 5e-4
    assert apart(block.speed_rad_s[0], speed) < 5e-4


def test_three_phase_start_as_a_circuit_under_ngspice(request: pytest.FixtureRequest, tmp_path: Path) -> None:
    need(request.config, "ngspice")
    t, i, w = netlists.solved(tmp_path, netlists.three_phase(400, 10), 0.4, 20e-6, "i(La)", "v(w)")[[0, 1, 2]]
    ours = model_run(three_phase_induction, 0.4, load_torque_n_m=10, load_factor=0)
    times = np.arange(ours.speed_rad_s.shape[1]) / RATE_HZ
    core = ours.values[0, 0] / 2200
    a, late = ours.values[0, 3] - core, slice(-2000, None)
    assert np.abs(a).max() == pytest.approx(np.abs(i).max(), rel=0.005)
    assert apart(a, np.interp(times, t, i)) < 0.01
    assert t95(times, ours.speed_rad_s[0]) == pytest.approx(t95(t, w), rel=0.005)
    assert ours.speed_rad_s[0, -1] == pytest.approx(w[-1], rel=1e-3)
    assert rms(a[late]) == pytest.approx(rms(np.interp(times, t, i)[late]), rel=2e-3)


def test_magnet_motor_start_as_a_circuit_under_ngspice(request: pytest.FixtureRequest, tmp_path: Path) -> None:
    need(request.config, "ngspice")
    t, i, w = netlists.solved(tmp_path, netlists.magnet_dc(12), 0.15, 5e-6, "i(La)", "v(w)")[[0, 1, 2]]
    ours = model_run(permanent_magnet_dc, 0.15)
    times = np.arange(ours.speed_rad_s.shape[1]) / RATE_HZ
    late = times > 0.1
    assert np.abs(ours.values[0, 1]).max() == pytest.approx(np.abs(i).max(), rel=0.005)
    assert t95(times, ours.speed_rad_s[0]) == pytest.approx(t95(t, w), rel=0.005)
    assert ours.speed_rad_s[0, late].mean() == pytest.approx(np.interp(times, t, w)[late].mean(), rel=1e-3)
    assert ours.values[0, 1, late].mean() == pytest.approx(np.interp(times, t, i)[late].mean(), rel=2e-3)


def test_capacitor_start_as_a_circuit_under_ngspice(request: pytest.FixtureRequest, tmp_path: Path) -> None:
    """With both windings up to the zero of the auxiliary's current behind 1125 r/min, then with the main alone."""
    need(request.config, "ngspice")
    seen = ("i(Lm)", "i(Lx)", "i(Lra)", "i(Lrb)", "v(w)")
    t, im, ix, ira, irb, w = netlists.solved(tmp_path, netlists.capacitor_start(6.1), 0.35, 20e-6, *seen)[:6]
    at = int(np.argmax(w > 1125 * pi / 30))
    at += int(np.argmax(ix[at:-1] * ix[at + 1 :] <= 0))
    rotor_psi = (0.0058 + 0.267) * irb[at] + 1.5 * 0.267 * ix[at]  # what the cage links stays
    start = (im[at], ira[at], rotor_psi / (0.0058 + 0.267), w[at])
    then = netlists.capacitor_start(6.1, start, 360 * 50 * t[at])
    t2, im2, w2 = netlists.solved(tmp_path, then, 0.4, 20e-6, "i(Lm)", "v(w)")[:3]
    ours = model_run(capacitor_start, 0.6, load_torque_n_m=6.1)
    times = np.arange(ours.speed_rad_s.shape[1]) / RATE_HZ
    speed = np.interp(times, np.concatenate([t[:at], t[at] + t2]), np.concatenate([w[:at], w2]))
    core = 230 * np.sqrt(2) * np.sin(2 * pi * 50 * times) / 600
    line = ours.values[0, 2] - core
    assert np.argmax(ours.truths[0, 0] == 0) / RATE_HZ == pytest.approx(t[at], abs=3 / RATE_HZ)
    assert np.abs(line).max() == pytest.approx(np.abs(im - ix).max(), rel=0.005)
    assert t95(times, ours.speed_rad_s[0]) == pytest.approx(t95(times, speed), rel=0.005)
    assert ours.speed_rad_s[0, -1] == pytest.approx(speed[-1], rel=1e-3)
    assert rms(line[-2000:]) == pytest.approx(rms(np.interp(times, t[at] + t2, im2)[-2000:]), rel=2e-3)
