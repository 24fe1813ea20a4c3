"""A window while it fills: nothing is scaled twice, nothing that did not come has a value."""

from fractions import Fraction

import numpy as np
import pytest

from firmware_protocol import WORD_CODING, ChannelDescription, Role
from server.stream import filling
from server.stream.filling import Filling, Stretches
from server.stream.scaling import groups_of, scale_words

CHANNEL = ChannelDescription(
    0, Role.CURRENT, "I", "line", "A", 0.5, 1.0, -90, 90, group=0, ticks_per_sample=Fraction(10_000)
)
GROUP = groups_of([CHANNEL], 1_000_000)[0]  # 20 samples in a window


def words(*codes: int) -> bytes:
    return (np.array(codes, "<i2").view("<u2") ^ WORD_CODING).tobytes()


def test_stretches_and_gaps_stand_where_they_belong() -> None:
    window = Filling(GROUP, 3, 600_000)
    window.add(2, 4, [words(1), words(2)])
    window.add(4, 5, [words(3)])
    window.add(10, 11, [words(100)])
    assert not window.whole
    samples = window.samples()
    assert np.flatnonzero(~samples.missing).tolist() == [2, 3, 4, 10]
    assert samples.values[0, [2, 3, 4, 10]].tolist() == [1.5, 2.0, 2.5, 51.0]
    assert np.isnan(samples.values[0, [0, 5, 19]]).all()
    assert np.flatnonzero(samples.clipped[0]).tolist() == [10]
    assert (samples.first_sample, samples.first_tick) == (60, 600_000)


def test_what_was_looked_at_early_is_not_scaled_again(monkeypatch: pytest.MonkeyPatch) -> None:
    sizes: list[int] = []

    def counted(group: object, data: bytes, out: object) -> None:
        sizes.append(len(data) // 2)
        scale_words(group, data, out)  # type: ignore[arg-type]  # passed on as it came

    monkeypatch.setattr(filling, "scale_words", counted)
    window = Filling(GROUP, 0, 0)
    window.add(0, 2, [words(0), words(1)])
    (early,) = Stretches([(window, 0, 2)])
    window.add(2, 20, [words(*range(2, 20))])
    assert window.whole
    whole = window.samples()
    assert sizes == [2, 18]
    assert early.values.tolist() == whole.values[:, :2].tolist()
    assert whole.values[0].tolist() == [0.5 * code + 1.0 for code in range(20)]


def test_a_sequence_of_stretches_has_a_length_and_parts_and_takes_no_time_until_then() -> None:
    window = Filling(GROUP, 0, 0)
    window.add(0, 3, [words(5, 6, 7)])
    stretches = Stretches([(window, 0, 1), (window, 1, 3)])
    assert len(stretches) == 2
    assert [each.count for each in stretches] == [1, 2]
    assert stretches[1].first_tick == 10_000
    assert stretches[0:1][0].values.tolist() == [[3.5]]


def test_a_window_without_a_sample_is_all_missing() -> None:
    samples = Filling(GROUP, 0, 0).samples()
    assert samples.missing.all()
    assert np.isnan(samples.values).all()
    assert not samples.clipped.any()
