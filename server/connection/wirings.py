"""Which wiring of three currents fits the angles that were measured. Pure; knows no channel and no word of the page.

Each measured current was taken to be that of one line; a wiring says which line it is really of and whether it is
turned round. Of all wirings those are kept whose angles, each between the voltage of the real line and the current as
it would be then, lie where those of such a machine lie.
"""

from cmath import phase
from dataclasses import dataclass
from itertools import product
from math import cos, degrees, radians

SPREAD_MAX_DEG = 40.0  # between the lines of one machine: sensors and unbalance (ours; 120 is another line)
_TAKES_NOTHING = 0.1  # the angle's cosine: no power to speak of is taken


@dataclass(frozen=True, slots=True)
class Wiring:
    """`lines`: the line that each measured current is really of; `turned`: whether it is turned round."""

    lines: tuple[int, ...]
    turned: tuple[bool, ...]

    def faults(self, taken: tuple[int, ...]) -> int:
        """How many mistakes make it of what was meant.

        One are: one turned round, or all; one on the conductor of another; two exchanged, or each at the next line.
        """
        turned = 1 if all(self.turned) else sum(self.turned)
        moved = sum(real != meant for real, meant in zip(self.lines, taken, strict=True))
        return turned + (moved if len(set(self.lines)) < len(taken) else min(moved, 1))


def angles_deg(voltages: tuple[complex, ...], currents: tuple[complex, ...], lines: tuple[int, ...]) -> list[float]:
    """Voltage minus current of each current, were it that of the given line; -180..180."""
    return [degrees(phase(voltages[line] * each.conjugate())) for line, each in zip(lines, currents, strict=True)]


def gives_back(angles: list[float]) -> bool:
    """Whether the lines of one machine would have these angles while it gives power back."""
    turned = [(angle + 180.0) % 360.0 for angle in angles]  # without a jump where all are near -180
    return max(turned) - min(turned) < SPREAD_MAX_DEG and max(map(cos, map(radians, angles))) < _TAKES_NOTHING


def fitting(
    voltages: tuple[complex, ...],
    currents: tuple[complex, ...],
    taken: tuple[int, ...],
    low_deg: float,
    high_deg: float,
) -> list[Wiring]:
    """The wirings that fit with the fewest mistakes, the best first; what was meant, where it fits at all.

    `voltages`: phasors of the three lines; `currents`: of two or three lines, `taken` to be of these.
    """
    meant = Wiring(taken, (False,) * len(taken))
    if _inside(angles_deg(voltages, currents, taken), low_deg, high_deg):  # nearly always
        return [meant]
    table = [angles_deg(voltages, (current,) * 3, (0, 1, 2)) for current in currents]
    found: list[tuple[int, float, Wiring]] = []
    for lines in product(range(3), repeat=len(taken)):
        for turned in product((False, True), repeat=len(taken)):
            wiring = Wiring(lines, turned)
            angles = [
                _other_way(table[k][line]) if turned[k] else table[k][line] for k, line in enumerate(wiring.lines)
            ]
            spread = max(angles) - min(angles)
            if _inside(angles, low_deg, high_deg) and spread < SPREAD_MAX_DEG:
                found.append((wiring.faults(taken), spread, wiring))
    fewest = min((faults for faults, _, _ in found), default=0)
    return [wiring for faults, _, wiring in sorted(found, key=lambda each: each[:2]) if faults == fewest]


def _inside(angles: list[float], low_deg: float, high_deg: float) -> bool:
    return low_deg < min(angles) and max(angles) < high_deg


def _other_way(angle_deg: float) -> float:
    """The angle of the same current turned round."""
    return angle_deg - 180.0 if angle_deg > 0 else angle_deg + 180.0
