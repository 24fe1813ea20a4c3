"""Dips and swells by the limits of IEC 61000-4-30 (from memory): 90 %, 110 %, hysteresis 2 %."""

from dataclasses import replace

import numpy as np
import pytest

from server.events.voltage import VOLTAGE
from tests.server.events.told import PLATE, block, stepped


def rows(*shares: float) -> list[float]:
    """20 rows: the shares given, then the full voltage."""
    return [230.0 * share for share in (*shares, *[1.0] * (20 - len(shares)))]


@pytest.mark.parametrize(
    ("shares", "texts"),
    [
        ((1.0, 0.8, 0.8, 0.8, 0.8), ["Voltage dipped to 184 V for 0.04 s"]),
        ((1.0, 0.91, 0.91, 0.91), []),
        ((1.0, 0.89, 0.89, 0.91, 0.91, 0.91), ["Voltage dipped to 205 V for 0.04 s"]),  # 0.91 does not end it
        ((1.0, 1.2, 1.2, 1.2), ["Voltage rose to 276 V for 0.04 s"]),  # half in and half out is 1.105
        ((1.0, 1.09, 1.09), []),
        ((0.85, 0.5, 0.2, 0.0, 0.0, 0.0, 0.0), []),  # switched off and on
    ],
)
def test_dips_and_swells_of_half_cycles_at_50_hz(shares: tuple[float, ...], texts: list[str]) -> None:
    found = stepped(VOLTAGE, [block(0), block(1, volts=rows(*shares)), block(2)])
    assert [each.text for each in found] == texts
    assert all(each.board_s == pytest.approx(0.22, abs=0.011) for each in found)


def test_a_dip_that_lasts_is_told_after_a_minute_and_once() -> None:
    blocks = [block(0), *[block(k, volts=200.0) for k in range(1, 400)], block(400), block(401)]
    assert [each.text for each in stepped(VOLTAGE, blocks)] == ["Voltage dipped to 200 V, for more than 60 s"]


def test_at_60_hz_half_cycles_of_another_length_make_no_dips() -> None:
    plate = replace(PLATE, frequency_hz=60.0)
    wave = np.sin(2 * np.pi * 60.0 * np.arange(4000) / 1000.0) * 0.93 * 325.3
    level = np.sqrt(np.square(wave).reshape(-1, 10).mean(axis=1)).reshape(-1, 20)
    assert np.sqrt(np.square(level[:, :2]).mean(axis=1)).min() < 0.9 * 230.0  # 20 ms of it do
    assert stepped(VOLTAGE, [block(k, volts=each.tolist(), plate=plate) for k, each in enumerate(level)]) == []


def test_a_supply_that_was_never_on_does_not_dip() -> None:
    assert stepped(VOLTAGE, [block(k, volts=150.0) for k in range(5)]) == []
