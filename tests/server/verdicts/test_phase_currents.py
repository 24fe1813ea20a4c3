"""A phase without current is told from a channel that is dead: by Kirchhoff's law, on currents written down by hand."""

from functools import partial

import numpy as np
import pytest

from firmware_protocol import InputKind, Role
from server.config import Plate
from server.hall.table import DRIVEN, FORWARD
from server.motors import motor_type
from server.quantities import commutation_readings
from server.samples import Channel, EdgeTrain, Input, Samples
from server.verdict import Certainty, Verdict
from server.verdicts.phase_currents import phase_verdict
from server.verdicts.rule import Look

_RATE_HZ, _SECTOR, _COUNT = 20_000.0, 50, 4000  # samples of a sector, of a window
_AMPS = 4.0


def _six_steps(open_phase: int | None) -> np.ndarray:
    """Blocks of current in the pair of each sector; none where one of the pair is open."""
    amps = np.zeros((3, _COUNT))
    for n in range(_COUNT // _SECTOR):
        pair = DRIVEN[n % 6]
        if open_phase not in pair:
            amps[list(pair), n * _SECTOR : (n + 1) * _SECTOR] = [[_AMPS], [-_AMPS]]
    return amps


def _said(amps: np.ndarray, measured: str) -> Verdict | None:
    """Of one window in which channels of these phases read those currents with noise."""
    motor, plate = motor_type("brushless"), Plate(current_a=8.0, pole_pairs=7)
    assert motor is not None
    channel = partial(Channel, unit="A", low=-60.0, high=60.0, group=0, rate_hz=_RATE_HZ, noise_rms=0.03)
    channels = tuple(channel(k, Role.CURRENT, f"I {x}", x) for k, x in enumerate(measured))
    values = np.stack([amps["UVW".index(x)] for x in measured])
    values = values + np.random.default_rng(1).normal(0.0, 0.03, values.shape)
    window = Samples(channels, 0, 0, 50.0, 1e6, values, np.zeros(_COUNT, np.bool_), np.zeros(values.shape, np.bool_))
    inputs = tuple(Input(k, InputKind.HALL, f"Hall {x}", k) for k, x in enumerate("ABC"))
    ticks = 50 * _SECTOR * np.arange(_COUNT // _SECTOR)
    states = np.array([FORWARD[120][n % 6] for n in range(ticks.size)], np.uint8)
    train = EdgeTrain(inputs, 1e6, FORWARD[120][5], ticks, states, 0, window.end_tick)
    readings = {each.id: each for each in commutation_readings(window, train, motor, plate)}
    return phase_verdict(Look(0.2, readings, motor, plate))


@pytest.mark.parametrize("phase", [0, 1, 2])
def test_with_three_channels_an_open_phase_and_a_dead_channel_are_two_things(phase: int) -> None:
    off = _said(_six_steps(phase), "UVW")
    dead = _six_steps(None)
    dead[phase] = 0.0
    channel = _said(dead, "UVW")
    assert off is not None
    assert channel is not None
    assert (off.key, off.about, off.certainty) == ("phase_open", "UVW"[phase], Certainty.PLAIN)
    assert (channel.key, channel.about) == ("current_channel_dead", "UVW"[phase])
    assert f"channel of {'UVW'[phase]} reads nothing" in channel.answer
    assert _said(_six_steps(None), "UVW") is None


@pytest.mark.parametrize("measured", ["UV", "VW", "UW"])
def test_with_two_channels_an_open_phase_is_probable_and_the_channel_is_left_open(measured: str) -> None:
    dead = _six_steps(None)
    name = measured[0]
    dead["UVW".index(name)] = 0.0
    for amps in (dead, _six_steps("UVW".index(name))):
        verdict = _said(amps, measured)
        assert verdict is not None
        assert (verdict.key, verdict.about, verdict.certainty) == ("phase_open", name, Certainty.PROBABLE)
        assert any(f"current channel of {name}" in each for each in verdict.open)
