"""What a drive makes of each sector, on waves written down from the six-step table."""

import numpy as np
import pytest

from server.hall.driven import (
    SectorSamples,
    flat_top,
    more_resistance,
    pair_currents,
    timing,
    torque_ripple,
    turned,
    widths_deg,
)
from server.hall.tail import Tail

RATE_HZ, HERTZ = 20_000.0, 50.0
# Published commutation tables, sector by sector: output on plus, output on minus (U V W = 0 1 2).
PLUS, MINUS = np.array([0, 0, 1, 1, 2, 2]), np.array([1, 2, 2, 0, 0, 1])
STATES = np.array([5, 1, 3, 2, 6, 4])


def turning(order: int = 1) -> tuple[SectorSamples, np.ndarray]:
    """Half a second at 50 electrical hertz, and the sector (0..5) of each sample."""
    t = np.arange(round(0.5 * RATE_HZ)) / RATE_HZ
    place = np.floor(6.0 * HERTZ * t + 0.2137).astype(int)
    sector = (order * place) % 6
    at = np.flatnonzero(np.diff(place)) + 1
    edges = np.round((np.arange(1, place[-1] + 1) - 0.2137) / (6.0 * HERTZ) * 1e6).astype(np.int64)
    found = turned(Tail(edges, STATES[sector[at]], None, 0, 0), 120, 0.0, 1e6 / RATE_HZ, t.size)
    assert isinstance(found, SectorSamples)
    return found, sector


def blocks(sector: np.ndarray, size: np.ndarray) -> np.ndarray:
    """Currents (3, samples) of the driven pair, `size` by sector."""
    amps = np.zeros((3, sector.size))
    at = np.arange(sector.size)
    amps[PLUS[sector], at], amps[MINUS[sector], at] = size[sector], -size[sector]
    return amps


@pytest.mark.parametrize("order", [1, -1])
def test_each_sector_has_its_own_current_whichever_way_it_turns(order: int) -> None:
    found, sector = turning(order)
    sizes = np.array([1.0, 2.0, 3.0, 4.0, 5.0, 6.0])
    assert pair_currents(found, blocks(sector, sizes)) == pytest.approx(sizes)
    assert widths_deg(found) == pytest.approx(np.full(6, 60.0), abs=0.02)  # a tick of 3333


def test_ideal_blocks_under_flat_tops_make_a_torque_without_ripple() -> None:
    found, sector = turning()
    ripple = torque_ripple(found, blocks(sector, np.full(6, 4.0)))
    assert ripple == pytest.approx(0.0, abs=1e-6)
    gap = torque_ripple(found, blocks(sector, np.array([4.0, 4.0, 4.0, 4.0, 4.0, 0.0])))
    assert gap == pytest.approx(1.0 / (5.0 / 6.0), rel=0.01)  # one sector of six makes nothing


def test_a_flat_top_reaches_from_30_to_150_degrees() -> None:
    assert flat_top(np.array([0.0, 15.0, 30.0, 90.0, 150.0, 180.0, 270.0])) == pytest.approx([0, 0.5, 1, 1, 1, 0, -1])


@pytest.mark.parametrize("late_deg", [-12.0, 0.0, 9.0])
@pytest.mark.parametrize("order", [1, -1])
def test_edges_that_are_late_show_in_the_lead_that_is_not_driven(late_deg: float, order: int) -> None:
    found, sector = turning(order)
    through = np.zeros(sector.size)
    through[found.first : found.last] = found.through
    free = 18.0 + np.where(sector % 2 == 1, 1.0, -1.0) * 18.0 * np.clip(
        2.0 * (through - 0.5 + late_deg / 60.0), -0.9, 0.9
    )
    volts = np.stack([np.select([PLUS[sector] == k, MINUS[sector] == k], [36.0, 0.0], free) for k in range(3)])
    told = timing(found, volts, np.full(sector.size, 36.0), blocks(sector, np.full(6, order * 4.0)))
    assert told is not None
    assert told.late_deg == pytest.approx(late_deg, abs=0.3)


def test_a_phase_that_carries_less_seems_to_have_more_resistance() -> None:
    found, sector = turning()
    pairs = np.array([1 / 2.2, 1 / 2.2, 1 / 2.0])  # U with V, U with W, V with W at the same voltage: U has 1.2
    more = more_resistance(found, blocks(sector, np.concatenate((pairs, pairs))), RATE_HZ)
    assert more == pytest.approx((0.2, -1 / 11, -1 / 11), abs=0.005)  # 1.2 against 1; 1 against 1.1
    assert more_resistance(found, blocks(sector, np.array([1.0, 0, 0, 1, 0, 0])), RATE_HZ) is None


def test_what_cannot_be_used_is_said() -> None:
    edges = np.arange(1, 40) * 20_000
    few = turned(Tail(edges[:3], STATES[:3], None, 0, 0), 120, 0.0, 50.0, 16_000)
    wrong = turned(Tail(edges, STATES[np.arange(39) * 2 % 6], None, 0, 0), 120, 0.0, 50.0, 16_000)
    slow = turned(Tail(edges, STATES[np.arange(39) % 6], None, 0, 0), 120, 0.0, 15_000.0, 60)
    assert [few, wrong] == ["less than one electrical turn in the window", "the Hall states did not come in order"]
    assert isinstance(slow, str)
    assert slow.startswith("sampled too slowly")
