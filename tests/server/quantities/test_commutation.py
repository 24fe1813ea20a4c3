"""The readings of sectors, of a window written down from the six-step table."""

import numpy as np
import pytest

from firmware_protocol import InputKind, Role
from server.config import Plate
from server.motors import motor_type
from server.quantities.commutation import LATE, commutation_readings
from server.readings import Reading
from server.samples import Channel, EdgeTrain, Input, Samples

HERTZ, RATE_HZ, COUNT = 300.0, 20_000.0, 4000
PLUS, MINUS = np.array([0, 0, 1, 1, 2, 2]), np.array([1, 2, 2, 0, 0, 1])  # published tables, sectors 1 to 6
STATES = np.array([5, 1, 3, 2, 6, 4], dtype=np.uint8)


def late(volts_delay_s: float, amps_delay_s: float, uncertain: tuple[tuple[int, int], ...] = ()) -> Reading:
    """What is told of edges that sit right, by channels with these delays, which they state; `uncertain`: ticks, of
    which those of the window are from 0 on, between which edges may be missing."""
    sampled = np.arange(COUNT) / RATE_HZ
    volts, amps = np.zeros((4, COUNT)), np.zeros((3, COUNT))
    for rows, delay_s in ((volts, volts_delay_s), (amps, amps_delay_s)):
        place, through = np.divmod(6.0 * HERTZ * (sampled - delay_s) + 0.2137, 1.0)
        sector = place.astype(int) % 6
        rising = np.where(sector % 2 == 1, 1.0, -1.0)
        for k in range(3):
            driven = [PLUS[sector] == k, MINUS[sector] == k]
            if rows is volts:
                rows[k] = np.select(driven, [36.0, 0.0], 18.0 + rising * 30.0 * (through - 0.5))
            else:
                rows[k] = np.select(driven, [4.0, -4.0], 0.0)
    volts[3] = 36.0
    places = [(Role.VOLTAGE, x, volts_delay_s) for x in ("U", "V", "W", "dc link")]
    places += [(Role.CURRENT, x, amps_delay_s) for x in ("U", "V", "W")]
    channels = tuple(
        Channel(k, role, place, place, "", -60.0, 60.0, 0, RATE_HZ, noise_rms=0.001, delay_s=delay_s)
        for k, (role, place, delay_s) in enumerate(places)
    )
    whole = np.zeros((7, COUNT), np.bool_)
    window = Samples(channels, 0, 0, 50.0, 1e6, np.vstack((volts, amps)), whole[0], whole)
    numbers = np.arange(-60, int(6.0 * HERTZ * COUNT / RATE_HZ))
    ticks = np.round((numbers - 0.2137) / (6.0 * HERTZ) * 1e6).astype(np.int64)
    inputs = tuple(Input(k, InputKind.HALL, "ABC"[k], k) for k in range(3))
    train = EdgeTrain(inputs, 1e6, 5, ticks, STATES[numbers % 6], -40_000, 200_000, uncertain)
    found = commutation_readings(window, train, motor_type("brushless"), Plate(current_a=5.0, pole_pairs=7))
    return next(each for each in found if each.key == LATE)


@pytest.mark.parametrize(("volts_delay_s", "amps_delay_s"), [(0.0, 0.0), (50e-6, 50e-6), (100e-6, 0.0), (0.0, 60e-6)])
def test_delays_that_differ_make_no_edge_late(volts_delay_s: float, amps_delay_s: float) -> None:
    # 100 us are 10.8 electrical degrees at 300 Hz.
    assert late(volts_delay_s, amps_delay_s).value == pytest.approx(0.0, abs=1.0)


def test_edges_that_are_lost_just_before_the_window_make_its_first_sector_doubtful() -> None:
    assert late(0.0, 0.0, uncertain=((-600, -200),)).reason == "an edge may be missing: frames were damaged"
    assert late(0.0, 0.0, uncertain=((-9000, -8000),)).reason == ""
