"""Little worlds of a bridge that drives a brushless motor, and what can be doubted or left out of it."""

from collections.abc import Iterator
from math import pi

import numpy as np

from tests.server.bad_supply import RATE_HZ, SECONDS, Floats, Wave, channel, level, sine, stream
from tests.server.hall.shafts import FORWARD_120, turning
from tests.server.worlds_of_shafts import BRUSHLESS, halls


def later(wave: Wave, by_s: float) -> Wave:
    return lambda t: wave(t - by_s)


def bridges() -> Iterator[bytes]:
    plate, link = "voltage_v = 36.0\ncurrent_a = 10.0\npole_pairs = 7\n", channel("dc link", level(36.0), 60.0, 1)
    amps = channel("dc link", level(0.0), 20.0, 2)
    yield stream(BRUSHLESS, link, amps, plate=plate)
    for wave in (level(18.0), lambda t: 18 + 9 * np.sin(2 * pi * (100 * t - 60 * t * t))):
        three = [channel(place, later(wave, k * 1e-3), 60.0, k) for k, place in enumerate("UVW")]
        yield stream(BRUSHLESS, link, amps, *three, plate=plate)
    for rms, hertz in ((9.0, 4.0), (9.0, 50.0)):
        three = [channel(x, sine(rms, hertz, 2 * pi * k / 3), 60.0, k) for k, x in enumerate("UVW")]
        yield stream(BRUSHLESS, link, amps, *three, plate="voltage_v = 36.0\ncurrent_a = 10.0\n")
    runs = channel("dc link", level(8.0), 20.0, 2), *(channel(x, sine(6.0), 20.0, k) for k, x in enumerate("UVW"))
    yield stream(
        BRUSHLESS, link, *runs, plate=plate + "winding_resistance_ohm = 0.1\n", **halls(turning(600.0, 7, 400))
    )


def commutations() -> Iterator[bytes]:
    """A bridge that drives the three phases by their Hall states: blocks of current, voltages between the rails."""
    yield commutated(50.0)
    yield commutated(8.0)
    yield commutated(50.0, amps=0.0)
    yield commutated(50.0, amps=0.004)
    yield commutated(50.0, swing=0.0)
    yield commutated(50.0, tail=0.6)
    yield commutated(50.0, late_deg=27.0)
    yield commutated(50.0, limit_a=3.0)
    yield commutated(50.0, limit_v=30.0)
    yield commutated(50.0, turned=(0, 3))
    yield commutated(50.0, turned=(0, 1, 2))
    yield commutated(4.0)
    yield commutated(50.0, tail=0.9)
    yield commutated(50.0, cut=slice(480, 500))
    yield commutated(1800.0)
    yield commutated(50.0, states=(5, 1, 3, 2, 4, 6))


def commutated(
    hertz: float,
    *,
    amps: float = 4.0,
    swing: float = 1.0,
    tail: float = 0.1,
    late_deg: float = 0.0,
    turned: tuple[int, ...] = (),
    states: tuple[int, ...] = FORWARD_120,
    cut: slice | None = None,
    limit_a: float = 20.0,
    limit_v: float = 60.0,
) -> bytes:
    """`tail`: share of a sector in which the lead that was driven is held by a diode; `swing`: of the lead that is not
    driven; `turned`: sectors in which the current flows the other way."""
    t = np.arange(round(RATE_HZ * SECONDS)) / RATE_HZ
    place, through = np.divmod(6.0 * hertz * t, 1.0)
    sector = place.astype(int) % 6
    plus, minus = (
        np.array([pair[k] for pair in ((0, 1), (0, 2), (1, 2), (1, 0), (2, 0), (2, 1))])[sector] for k in (0, 1)
    )
    rising = np.where(sector % 2 == 1, 1.0, -1.0)
    free = 18.0 + swing * rising * 18.0 * np.clip(2.0 * (through - 0.5 + late_deg / 60.0), -1.0, 1.0)
    free = np.where(through < tail, np.where(rising > 0, 36.0, 0.0), free)
    flow = np.where(np.isin(sector, turned), -amps, amps)
    volts = [np.select([plus == k, minus == k], [36.0 + 0 * t, 0 * t], free) for k in range(3)]
    flows = [np.select([plus == k, minus == k], [flow, -flow], 0.0) for k in range(3)]
    channels = [
        *(channel(x, given(volts[k]), limit_v, k) for k, x in enumerate("UVW")),
        channel("dc link", level(36.0), limit_v, 5),
        *(channel(x, given(flows[k]), limit_a, 6 + k) for k, x in enumerate("UVW")),
        channel("dc link", level(amps), limit_a, 9),
    ]
    edges = [(round(1e6 * k / (6.0 * hertz)), states[k % 6]) for k in range(1, int(6.0 * hertz * SECONDS))]
    plate = "voltage_v = 36.0\ncurrent_a = 10.0\npole_pairs = 7\n"
    return stream(BRUSHLESS, *channels, plate=plate, cut=cut, **halls(edges, states[0]))


def given(values: Floats) -> Wave:
    return lambda _: values
