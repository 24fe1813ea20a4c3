"""Voltages between three leads must add up to nothing, going round: where they don't, nothing is built on them."""

import numpy as np
import pytest

from firmware_protocol import InputKind, Role
from server.hall.inputs import Halls
from server.motors import motor_type
from server.samples import Channel, EdgeTrain, Input, Samples
from server.wiring.following import Following
from server.wiring.grounds import Known
from server.wiring.leads import probes_of
from server.wiring.stretch import Stretch
from server.wiring.verdicts import Judgement, verdicts
from tests.server.wiring.shaft import TICK_HZ, Floats, Motor, edges_of, strokes, volts_of

_RATE_HZ, _LOOP = 5000.0, ("U-V", "V-W", "W-U")
_OFFSETS_V = np.array([[0.02], [-0.01], [0.015]])


def _judged(places: tuple[str, ...], factors: tuple[float, ...]) -> Judgement:
    """Of a motor that is wired right; each channel between two leads reads so many times what is there."""
    rng, motor = np.random.default_rng(2), Motor()
    time, angle = strokes(rng, motor.pole_pairs, 8.0)
    seconds = float(np.ceil(time[-1] / 0.2 + 1) * 0.2)
    edges, leads = edges_of(motor, time, angle), volts_of(motor, time, angle, seconds, _RATE_HZ, 0.02)
    read = np.stack([leads["UVW".index(place[0])] - leads["UVW".index(place[2])] for place in places])
    values: Floats = read * np.array(factors)[:, None] + _OFFSETS_V[: len(places)]
    values = values + rng.normal(0.0, 0.012, values.shape)
    channels = tuple(
        Channel(k, Role.VOLTAGE, place, place, "V", -60.0, 60.0, noise_rms=0.012, rate_hz=_RATE_HZ)
        for k, place in enumerate(places)
    )
    kind = motor_type("brushless")
    assert kind is not None
    probes = probes_of(channels, kind)
    assert probes is not None
    following = Following(Halls((0, 1, 2), 120, None), probes)
    stretch = Stretch(TICK_HZ, True, probes.least_v)
    inputs = tuple(Input(k, InputKind.HALL, "ABC"[k], k) for k in range(3))
    for first in range(0, values.shape[1] - 999, 1000):
        part = np.ascontiguousarray(values[:, first : first + 1000])
        none = np.zeros(part.shape, np.bool_)
        window = Samples(channels, first, first * 200, 200.0, TICK_HZ, part, none[0], none)
        stop = int(edges.ticks.searchsorted(window.end_tick))
        states = edges.states[:stop].astype(np.uint8)
        train = EdgeTrain(inputs, TICK_HZ, edges.before, edges.ticks[:stop], states, 0, window.end_tick)
        stretch.take(following.step(train, window, False))
    return verdicts(stretch.grounds(Known(turned_forward=True)))


@pytest.mark.parametrize("factors", [(1.0, 1.0, 0.0), (1.0, -1.0, 1.0), (0.5, 1.0, 1.0)])
def test_a_channel_that_is_dead_turned_round_or_of_another_scale_ends_the_judging(factors: tuple[float, ...]) -> None:
    judgement = _judged(_LOOP, factors)
    assert [each.key for each in judgement.verdicts] == ["voltages_contradict", "commutation_unknown"]
    assert judgement.verdicts[0].answer.startswith("The voltage channels contradict each other")
    assert judgement.order.mends == ()
    assert judgement.alignment is None


@pytest.mark.parametrize("factors", [(1.0, 1.0, 1.0), (1.02, 0.98, 1.0)])
def test_channels_that_agree_but_for_offsets_and_gains_are_believed(factors: tuple[float, ...]) -> None:
    assert _judged(_LOOP, factors).order.verdict.key == "commutation_good"


def test_two_voltages_between_leads_have_nothing_to_contradict() -> None:
    assert _judged(_LOOP[:2], (1.0, 1.0)).order.verdict.key == "commutation_good"
