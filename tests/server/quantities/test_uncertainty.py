"""The arithmetic of uncertainty against the guide's own figures and scipy."""

from math import inf, sqrt

import pytest
from scipy import stats

from server.quantities.uncertainty import combined, coverage_factor, effective_dof


@pytest.mark.parametrize("dof", [1, 2, 3, 4, 5, 6, 8, 10, 15, 16, 20, 30, 50, 100, 1000])
def test_the_coverage_factor_is_students_t(dof: int) -> None:
    assert coverage_factor(dof) == pytest.approx(stats.t.ppf(0.975, dof), abs=0.01 if dof < 5 else 0.003)


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
