"""Cyclic duration factor and starts per hour: of cycles made by hand, and of an open recording of a real compressor."""

from pathlib import Path

import numpy as np
import pytest

from server.duty import Begun, Bound, Cycle, Figure
from server.duty.cycle import KEYS
from server.duty.factor import factors, times_on_off, usage_of


def cycle(number: int, on_s: float, off_s: float, **more: object) -> Cycle:
    figures = dict.fromkeys(KEYS, Figure(None, reason="not asked"))
    figures |= {"on_time_s": Figure(on_s, 0.016), "off_time_s": Figure(off_s, 0.016)}
    return Cycle(number, number * (on_s + off_s), Begun.SEEN, figures, **more)  # type: ignore[arg-type]


@pytest.mark.parametrize("percent", [15, 25, 40, 60])
def test_cycles_of_ten_minutes_have_the_factor_that_their_duty_is_called_by(percent: float) -> None:
    # "S3 25 %" of cycles of 10 min is 2.5 min of load: IEC 60034-1, 4.2.3, with its preferred values (from memory)
    on_s = 600.0 * percent / 100.0
    usage = usage_of([cycle(k, on_s, 600.0 - on_s) for k in range(6)])
    assert usage.duration_factor.value == pytest.approx(percent)
    assert usage.duration_factor.half == pytest.approx(100.0 * 0.016 / 600.0)  # all are alike
    assert usage.starts_per_hour.value == pytest.approx(6.0)


def test_cycles_that_are_not_known_whole_are_left_out_and_counted() -> None:
    open_ = cycle(4, 60.0, 10.0, ended=False)
    holed = cycle(5, 60.0, 60.0, hidden_s=3.0)
    unseen = Cycle(6, 0.0, Begun.UNSEEN, cycle(6, 60.0, 60.0).figures)
    short = cycle(7, 60.0, 60.0)
    short.figures["on_time_s"] = Figure(60.0, None, "its current ended while samples were missing", Bound.MOST)
    usage = usage_of([cycle(1, 60.0, 60.0), cycle(2, 62.0, 60.0), open_, holed, unseen, short])
    assert (usage.whole, usage.left_out) == (2, 4)
    assert usage.duration_factor.value == pytest.approx(100 * 122 / 242)


def test_without_a_whole_cycle_there_is_no_factor() -> None:
    usage = usage_of([cycle(1, 60.0, 60.0, ended=False)])
    assert (usage.duration_factor.value, usage.starts_per_hour.value) == (None, None)
    one = usage_of([cycle(1, 60.0, 60.0)])
    assert (one.duration_factor.value, one.duration_factor.half) == (50.0, None)


def test_the_interval_of_the_factor_holds_the_truth_in_95_percent_of_nights() -> None:
    draw, held = np.random.default_rng(5), 0
    for _ in range(400):
        on, off = draw.normal(30.0, 4.0, 20), draw.normal(60.0, 9.0, 20)
        figure = usage_of([cycle(k, a, b) for k, (a, b) in enumerate(zip(on, off, strict=True))]).duration_factor
        assert figure.value is not None
        assert figure.half is not None
        held += abs(figure.value - 100.0 / 3.0) <= figure.half
    assert 0.92 <= held / 400 <= 0.98


def test_a_real_compressor_has_the_starts_and_the_factor_of_its_night(recordings: Path) -> None:
    # compressor-night-1 of the open recordings: MetroPT-3, N. Davari and others (CC BY 4.0). In its index, computed
    # apart from this program with the rows as they are: 3 starts, off for 0.7661 of the rows, a start as a step to on.
    night = np.load(recordings / "compressor-night-1.npz")
    amps = night["motor_current_a"]
    on = amps > 1.0
    on_s, off_s = times_on_off(night["time_s"].tolist(), on.tolist())
    assert len(on_s) - bool(on[0]) == 3
    share, per_hour = factors(on_s, off_s)
    assert share == pytest.approx(1.0 - 0.7661, abs=0.002)  # the last row has no length
    assert per_hour == pytest.approx(3600.0 * len(on_s) / 6660.0, rel=0.02)
