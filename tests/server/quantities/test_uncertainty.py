"""The arithmetic of uncertainty against the guide's own figures and scipy."""

from math import inf, sqrt

import numpy as np
import pytest
from scipy import stats

from server.quantities.uncertainty import combined, coverage_factor, effective_dof


@pytest.mark.parametrize("dof", [1, 2, 3, 4, 5, 6, 8, 10, 15, 16, 20, 30, 50, 100, 1000])
def test_the_coverage_factor_is_students_t(dof: int) -> None:
    assert coverage_factor(dof) == pytest.approx(stats.t.ppf(0.975, dof), abs=0.01 if dof < 4 else 0.003)


def test_the_coverage_factor_of_known_parts_is_the_normal_one_and_it_falls_with_the_degrees_of_freedom() -> None:
    assert coverage_factor(inf) == pytest.approx(stats.norm.ppf(0.975), abs=1e-6)
    found = [coverage_factor(0.5 + 0.25 * k) for k in range(100)]
    assert found == sorted(found, reverse=True)


def test_the_end_gauge_of_the_guide() -> None:
    """JCGM 100, H.1 (figures from memory): 25, 9.7, 2.9, 16.6 nm with 18, 25.6, 50, 2 degrees of freedom give 32 nm and
    16; the guide's expanded uncertainty there is for 99 %, so factor and interval are those of scipy for 95 %."""
    parts = [("standard", 25.0, 18.0), ("difference", 9.7, 25.6), ("expansion", 2.9, 50.0), ("temperature", 16.6, 2.0)]
    assert sqrt(sum(u * u for _, u, _ in parts)) == pytest.approx(32, abs=0.5)
    assert effective_dof(parts) == pytest.approx(16.7, abs=0.8)
    found = combined(50_000_838.0, parts)
    dof = effective_dof(parts)
    assert found.coverage_factor == pytest.approx(stats.t.ppf(0.975, dof), abs=0.003)
    assert found.high - 50_000_838.0 == pytest.approx(32 * found.coverage_factor, rel=0.02)
    assert found.parts[0] == ("standard", 25.0)


def test_a_bound_cuts_the_interval_and_nothing_else() -> None:
    found = combined(0.99, [("noise", 0.01, inf)], low=-1.0, high=1.0)
    assert found.low == pytest.approx(0.99 - 0.0196, abs=1e-4)
    assert found.high == 1.0
    sure = combined(1.0, [])
    assert (sure.low, sure.high, sure.half) == (1.0, 1.0, 0.0)


def test_the_difference_of_the_end_gauges_of_the_guide() -> None:
    """JCGM 100, H.1.3.2 and H.1.6 (figures from memory): 5.8, 3.9, 6.7 nm with 24, 5, 8 degrees of freedom: 9.7 nm with
    25.6 of them."""
    parts = [("scatter", 5.8, 24.0), ("comparator, random", 3.9, 5.0), ("comparator, systematic", 6.7, 8.0)]
    assert sqrt(sum(u * u for _, u, _ in parts)) == pytest.approx(9.7, abs=0.05)
    assert effective_dof(parts) == pytest.approx(25.6, abs=0.2)  # there with 9.7 as rounded


# JCGM 100, H.2, table H.2 (from memory): five simultaneous observations of 5 V, 19.7 mA and the angle between them.
VOLTS = np.array([5.007, 4.994, 5.005, 4.990, 4.999])
MILLIAMPS = np.array([19.663, 19.639, 19.640, 19.685, 19.678])
RADIANS = np.array([1.0456, 1.0438, 1.0468, 1.0428, 1.0433])


def test_resistance_and_reactance_of_the_guide_from_single_results_carry_their_correlation() -> None:
    """H.2.4 (from memory): R 127.732 and X 219.847 and Z 254.260 ohm with 0.071, 0.295 and 0.236 by the scatter of five
    single results, in which what voltage, current and angle have in common is kept."""
    impedance = 1000.0 * VOLTS / MILLIAMPS
    printed = ((np.cos(RADIANS), 127.732, 0.071), (np.sin(RADIANS), 219.847, 0.295), (np.ones(5), 254.260, 0.236))
    for share, ohm, standard in printed:
        results = impedance * share
        found = combined(float(results.mean()), [("scatter", float(results.std(ddof=1)) / sqrt(5), 4.0)])
        assert 0.5 * (found.low + found.high) == pytest.approx(ohm, abs=5e-4)
        assert found.parts[0][1] == pytest.approx(standard, abs=6e-4)
        assert found.coverage_factor == pytest.approx(2.776, abs=1e-3)  # table G.2 at 4


def test_parts_of_the_guides_reactance_that_hang_together_may_not_be_combined_as_independent_ones() -> None:
    """H.2.3: r(V, I) -0.36, r(V, phi) 0.86, r(I, phi) -0.65 (from memory). With them 0.295 ohm, without 0.20: what
    hangs together (slip and clock, power factor and gains) is taken out before parts are combined here."""
    pairs = ((VOLTS, MILLIAMPS, -0.36), (VOLTS, RADIANS, 0.86), (MILLIAMPS, RADIANS, -0.65))
    for one, other, printed in pairs:
        assert np.corrcoef(one, other)[0, 1] == pytest.approx(printed, abs=0.005)
    volts, amps, angle = VOLTS.mean(), 1e-3 * MILLIAMPS.mean(), RADIANS.mean()
    ohm = float(volts * np.sin(angle) / amps)
    slopes = (ohm / volts, -ohm / amps, float(volts * np.cos(angle) / amps))
    means = [float(each.std(ddof=1)) / sqrt(5) for each in (VOLTS, 1e-3 * MILLIAMPS, RADIANS)]
    found = combined(ohm, [("", abs(slope) * u, 4.0) for slope, u in zip(slopes, means, strict=True)])
    wrongly = sqrt(sum(u * u for _, u in found.parts))
    assert wrongly < 0.75 * 0.295


def test_the_thermometer_of_the_guide_at_30_degrees() -> None:
    """JCGM 100, H.3 (data and results from memory; the arithmetic bears them out): eleven readings on a line, level and
    slope with -0.1712 and 0.00218; at 30 degrees the correction is -0.1494 with 0.0041 and 9 degrees of freedom.

    About the middle of the readings level and slope are independent, and there the two are combined here.
    """
    t = np.array([21.521, 22.012, 22.512, 23.003, 23.507, 23.999, 24.513, 25.002, 25.503, 26.010, 26.511])
    b = -1e-3 * np.array([171, 169, 166, 159, 164, 165, 156, 157, 159, 161, 160])
    slope, level = np.polyfit(t - 20.0, b, 1)
    assert (slope, level) == pytest.approx((0.00218, -0.1712), abs=5e-5)
    scatter = sqrt(float(((b - level - slope * (t - 20.0)) ** 2).sum()) / 9)
    assert scatter == pytest.approx(0.0035, abs=5e-5)
    spread = float(((t - t.mean()) ** 2).sum())
    parts = [("level", scatter / sqrt(11), 9.0), ("slope", scatter / sqrt(spread) * (30.0 - t.mean()), 9.0)]
    found = combined(float(level + 10.0 * slope), parts)
    assert 0.5 * (found.low + found.high) == pytest.approx(-0.1494, abs=5e-5)
    assert found.half == pytest.approx(2.262 * 0.0041, rel=0.03)  # both of one scatter: 9, where this takes 10
