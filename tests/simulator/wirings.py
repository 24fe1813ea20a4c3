"""The classes of all 36 wirings from the project's own enumeration, and the torque fraction that tells them.

The enumeration knows no equation of a motor: it counts, in each sector, what the pair that the table drives would give.
"""

import numpy as np
from numpy.typing import NDArray

HALL_ORDERS = ("ABC", "ACB", "BAC", "BCA", "CAB", "CBA")
PHASE_ORDERS = ("UVW", "UWV", "VUW", "VWU", "WUV", "WVU")
# Rows: sensors on inputs A B C; columns: motor phases on outputs U V W, both in the order above.
# F, R: right, forward and reverse; f, r: weak, with e early, l late; L: does not turn.
CLASSES = ("F L L re rl L", "L fl fe L L R", "L R fl L L fe", "rl L L F re L", "re L L rl F L", "L fe R L L fl")
CLASSES_60 = {0: "F L L re rl L", 5: "L R fl L L fe"}  # sensors and table of 60 degrees
MIRRORED = {"F": "R", "R": "F", "L": "L", "fe": "rl", "fl": "re", "re": "fl", "rl": "fe"}  # all sensors inverted
FRACTIONS = {"F": 1.0, "R": -1.0, "fe": 0.5, "fl": 0.5, "re": -0.5, "rl": -0.5, "L": 0.0}
SECTOR_120 = np.array([-1, 1, 3, 2, 5, 0, 4, -1])  # by level 4 C + 2 B + A
PLUS, MINUS = np.array([0, 0, 1, 1, 2, 2]), np.array([1, 2, 2, 0, 0, 1])  # by sector, forward


def torque_fraction(levels: NDArray[np.uint8], volts: NDArray[np.float64]) -> float:
    """Of the wiring as it stands: voltages (3, samples) at the outputs U, V, W and levels (samples,) at the inputs.

    Mean of the voltage of the pair that the table drives, over the largest between any two: an angle integral, so
    neither speed nor scale matters. Samples in a state that the table does not know count below only.
    """
    sector = SECTOR_120[levels]
    at, known = np.arange(levels.size), sector >= 0
    pair = volts[PLUS[sector], at] - volts[MINUS[sector], at]
    return float(np.sum(pair[known]) / np.sum(np.ptp(volts, axis=0)))
