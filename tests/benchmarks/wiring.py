"""An hour of the edges of a brushless motor at full speed, from windows of 200 ms to the grounds of verdicts.

Seven pole pairs at 2500 to 3000 r/min make 7 million edges an hour. A part is measured and taken for the whole: once
driven, once turned by a belt with three voltages at 20 kS/s. Verdicts are on the last stretch.
"""

from time import process_time

import numpy as np
from numpy.typing import NDArray

from firmware_protocol import InputKind, Role
from server.hall.inputs import Halls
from server.samples import Channel, EdgeTrain, Input, Samples
from server.wiring.following import Following
from server.wiring.grounds import Known
from server.wiring.leads import OffBy, Probes
from server.wiring.stretch import Stretch
from server.wiring.verdicts import verdicts
from tests.benchmarks.pairs import Row

GOAL = "wiring"
HOUR_S, DRIVEN_S, BELT_S = 3600.0, 20.0, 40.0
PAIRS, TICK_HZ, RATE_HZ, WINDOW_TICKS = 7, 1_000_000.0, 20_000.0, 200_000
_COUNT = round(RATE_HZ * WINDOW_TICKS / TICK_HZ)
_BACK = 640  # edges before a window that its train reaches back


def measure(pairs: int) -> list[Row]:
    """Two rows: CPU seconds for an hour of edges; `pairs` times twenty seconds of them are measured."""
    windows = 100 * pairs
    driven, belt = hour_s(windows, driven=True), hour_s(windows, driven=False)
    note = "CPU seconds for an hour of edges"
    return [
        Row(GOAL, "6.9 million Hall edges, driven, and their verdicts", driven, DRIVEN_S, note),
        Row(GOAL, "the same turned by a belt, with three voltages", belt, BELT_S, note),
    ]


def hour_s(windows: int, driven: bool) -> float:
    """CPU seconds that an hour takes at the pace of so many windows."""
    ticks, states = _edges(windows)
    samples = _window()
    inputs = tuple(Input(k, InputKind.HALL, "ABC"[k], k) for k in range(3))
    weights = np.eye(3) - 1.0 / 3.0
    following = Following(Halls((0, 1, 2), 120, PAIRS), Probes((0, 1, 2), weights, 0.06, 0.0, OffBy(1e-6, 0.005)))
    stretch = Stretch(TICK_HZ, True, 0.06)
    start = process_time()
    for number in range(windows):
        first_tick = number * WINDOW_TICKS
        window = Samples(
            samples.channels,
            0,
            first_tick,
            TICK_HZ / RATE_HZ,
            TICK_HZ,
            samples.values,
            samples.missing,
            samples.clipped,
        )
        train = _train(inputs, ticks, states, first_tick)
        stretch.take(following.step(train, window, driven))
    judged = verdicts(stretch.grounds(Known(pole_pairs=PAIRS)))
    used_s = process_time() - start
    if not judged.verdicts or judged.verdicts[0].key.startswith(("hall_line_", "edges_")):
        raise AssertionError(f"a healthy motor was told to have {judged.verdicts}")
    return used_s * HOUR_S / (windows * WINDOW_TICKS / TICK_HZ)


def _edges(windows: int) -> tuple[NDArray[np.int64], NDArray[np.uint8]]:
    """Times of edges while the speed swings between 2500 and 3000 r/min once in 20 s, and the states after them."""
    time = np.arange(0.0, windows * WINDOW_TICKS / TICK_HZ, 1e-3)
    rpm = 2750.0 + 250.0 * np.sin(2 * np.pi * time / 20.0)
    sectors = np.cumsum(rpm / 60.0 * PAIRS * 6 * 1e-3)
    places = np.arange(1.0, sectors[-1])
    places += np.random.default_rng(1).normal(0.0, 0.01, places.size)
    ticks = np.interp(places, sectors, time) * TICK_HZ
    return ticks.astype(np.int64), np.resize([5, 1, 3, 2, 6, 4], places.size).astype(np.uint8)


def _train(
    inputs: tuple[Input, ...], ticks: NDArray[np.int64], states: NDArray[np.uint8], first_tick: int
) -> EdgeTrain:
    end_tick = first_tick + WINDOW_TICKS
    stop = int(ticks.searchsorted(end_tick))
    start = max(0, int(ticks.searchsorted(first_tick)) - _BACK)
    before = int(states[start - 1]) if start else 4
    return EdgeTrain(inputs, TICK_HZ, before, ticks[start:stop], states[start:stop], 0, end_tick)


def _window() -> Samples:
    """Three voltages of about 320 Hz."""
    channels = tuple(Channel(k, Role.VOLTAGE, f"u{k}", "UVW"[k], "V", -60.0, 60.0, 0, RATE_HZ) for k in range(3))
    turns = np.arange(_COUNT) * 320.0 / RATE_HZ
    values = np.stack([8.0 * np.sin(2 * np.pi * (turns - k / 3)) for k in range(3)])
    whole = np.zeros(values.shape, np.bool_)
    return Samples(channels, 0, 0, TICK_HZ / RATE_HZ, TICK_HZ, values, whole[0], whole)
