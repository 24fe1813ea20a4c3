"""The drop of a pair of brushes: passive, at its full value from a few tenths of an ampere on, and smooth between."""

import numpy as np
import pytest

from simulator.physics.brush import BRUSH_A, brush_contact, brush_drop

CASE = np.zeros(1, [("brush_v", "f8")])
CASE["brush_v"] = 2.0


def test_the_contact_is_the_tangent_it_stands_for_also_where_it_is_cut_short() -> None:
    for i in (-50.0, -1.0, -0.999, -0.05, 0.0, 0.01, 0.3, 1.0, 50.0):
        assert brush_contact(i) == np.tanh(i / BRUSH_A)


def test_the_slope_is_that_of_the_drop() -> None:
    for i in (-0.2, -0.03, 0.0, 0.02, 0.1):
        drop, slope = brush_drop(CASE[0], i)
        more, _ = brush_drop(CASE[0], i + 1e-7)
        assert slope == pytest.approx((more - drop) / 1e-7, rel=1e-4, abs=1e-4)
        assert drop * i >= 0
