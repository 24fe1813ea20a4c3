"""Three Hall sensors on a rotor and the lines that leave them: what board and controller read alike.

The chain, in this order: rotor angle, sensors, polarity, stuck, wire order, joined, broken for moments, no pull-up,
pulses. Sensor s changes at transition m of the magnets, in electrical degrees

    180 m + rise_s + place_s + late + magnet_(m mod poles) -+ width_s / 2,   - where it rises (m even), + where it falls

and that only once the rotor is a hysteresis further in the direction of motion. rise is 30, 150, 270 degrees for
sensors 120 degrees apart, 30, 90, 150 for 60. Magnets, places and widths are unit patterns, drawn once from the
motor's seed, times their size. What comes and goes at random: hall_faults.py, from the same seed. May assume records
made by `fill_hall` and `draw_lines`.
"""

from collections.abc import Mapping, Sequence
from math import inf
from typing import Any

import numpy as np

from simulator.motors.hall_faults import begin_anew
from simulator.physics.control import Control
from simulator.physics.stepping import compiled

ORDERS = ((0, 1, 2), (0, 2, 1), (1, 0, 2), (1, 2, 0), (2, 0, 1), (2, 1, 0))  # of what sits on places 1, 2, 3
RISE_DEG = {120: (30.0, 150.0, 270.0), 60: (30.0, 90.0, 150.0)}
MOST_POLES = 64
LARGEST_MAGNET = 3.0
PAIRS = ((-1, -1), (0, 1), (1, 2), (0, 2))
LOST_HIGH, LOST_LOW, EXCHANGED = 1, 2, 3

HALL = np.dtype(
    [
        ("poles", "i8"),
        ("rise_deg", "f8", 3),  # with place and lateness
        ("place_deg", "f8"),  # sizes of the drawn patterns
        ("width_deg", "f8"),
        ("magnets_deg", "f8"),
        ("wider_deg", "f8", 3),
        ("play_deg", "f8"),
        ("inverted", "i8"),
        ("stuck_low", "i8"),
        ("stuck_high", "i8"),
        ("order", "i8", 3),
        ("joined", "i8", 2),
        ("joined_high", "i8"),
        ("floating", "i8"),
        ("supply", "i8"),
        ("intermittent", "i8"),
        ("bursts_hz", "f8"),
        ("pulses", "i8"),
        ("pulses_hz", "f8"),
    ]
)
LINES = np.dtype(
    [
        ("random", "u8"),
        ("first_random", "u8"),
        ("place", "f8", 3),
        ("width", "f8", 3),
        ("magnet", "f8", MOST_POLES),
        ("passed", "i8", 3),  # the last transition that each sensor has seen, not wrapped
        ("up_deg", "f8"),  # electrical angles at which the next sensor changes
        ("down_deg", "f8"),
        ("sensors", "i8"),
        ("read", "i8"),
        ("next_s", "f8"),  # when something random happens next
        ("burst_s", "f8", 3),
        ("burst_end_s", "f8", 3),
        ("flip_s", "f8", 3),
        ("open", "i8"),
        ("pulse_s", "f8", 3),
        ("pulse_begin_s", "f8", 3),
        ("pulse_end_s", "f8", 3),
        ("pulse", "i8"),
        ("noise_slot", "i8"),  # the next one in which noise is drawn; none while below 0
        ("noise", "i8"),
    ]
)
MASKS = ("none", "A", "B", "A+B", "C", "A+C", "B+C", "A+B+C")
HALL_CONTROLS = (
    Control("hall_order", 0, 0, 5, "sensors on the inputs A B C", ("ABC", "ACB", "BAC", "BCA", "CAB", "CBA")),
    Control("hall_inverted", 0, 0, 7, "sensors that read the opposite", MASKS),
    Control("hall_spacing_deg", 120, 60, 120, "sensors 120 or 60 electrical degrees apart"),
    Control("hall_late_deg", 0, -60, 60, "all sensors late when turning forward, electrical; early below 0"),
    *(Control(f"hall_{x}_late_deg", 0, -60, 60, f"sensor {x.upper()} out of its place, electrical") for x in "abc"),
    Control("hall_wider_deg", 0, -40, 40, "high time of all sensors longer, electrical"),
    *(Control(f"hall_{x}_wider_deg", 0, -40, 40, f"high time of sensor {x.upper()} longer") for x in "abc"),
    Control("hall_magnets_deg", 0, 0, 10, "unevenness of the magnets, RMS, electrical"),
    Control("hall_hysteresis_deg", 0.5, 0, 30, "how far the rotor goes on before a sensor changes, electrical"),
    Control("hall_stuck_low", 0, 0, 7, "sensors that stay low", MASKS),
    Control("hall_stuck_high", 0, 0, 7, "sensors that stay high", MASKS),
    Control("hall_joined", 0, 0, 3, "lines that touch", ("none", "A+B", "B+C", "A+C")),
    Control("hall_joined_high", 0, 0, 1, "joined lines are high when either is (active-high outputs), else when both"),
    Control("hall_floating", 0, 0, 7, "inputs without a pull-up", MASKS),
    Control(
        "hall_supply_fault", 0, 0, 3,
        "sensor supply lost with the pull-ups at the board, or with them; or supply and ground exchanged",
        ("none", "lost, all high", "lost, all low", "exchanged"),
    ),
    Control("hall_intermittent", 0, 0, 7, "inputs whose wire breaks for moments", MASKS),
    Control("hall_bursts_hz", 4, 0.1, 20, "how often it does, mean"),
    Control("hall_pulses", 0, 0, 7, "inputs with short pulses, mostly as currents change", MASKS),
    Control("hall_pulses_hz", 100, 1, 1000, "how many, mean a second"),
)  # fmt: skip


def fill_hall(hall: Any, controls: Mapping[str, float], pole_pairs: int, place_deg: float, width_deg: float) -> None:
    """Fill one HALL record; the last two are the sizes (RMS) of a healthy motor's scatter, electrical degrees."""
    spacing = 120 if controls["hall_spacing_deg"] > 90 else 60
    late = [controls["hall_late_deg"] + controls[f"hall_{x}_late_deg"] for x in "abc"]
    hall["poles"], hall["rise_deg"] = 2 * pole_pairs, np.add(RISE_DEG[spacing], late)
    hall["place_deg"], hall["width_deg"], hall["play_deg"] = place_deg, width_deg, controls["hall_hysteresis_deg"]
    hall["wider_deg"] = [controls["hall_wider_deg"] + controls[f"hall_{x}_wider_deg"] for x in "abc"]
    hall["magnets_deg"] = controls["hall_magnets_deg"]
    for name in ("inverted", "stuck_low", "stuck_high", "floating", "intermittent", "pulses"):
        hall[name] = round(controls[f"hall_{name}"])
    hall["order"] = ORDERS[round(controls["hall_order"])]
    hall["joined"], hall["joined_high"] = PAIRS[round(controls["hall_joined"])], controls["hall_joined_high"] > 0
    hall["supply"] = round(controls["hall_supply_fault"])
    hall["bursts_hz"], hall["pulses_hz"] = controls["hall_bursts_hz"], controls["hall_pulses_hz"]


def draw_lines(lines: Any, seed: int, pole_pairs: int, magnets: Sequence[float]) -> None:
    """Fill one LINES record from a seed; `magnets` (2 pole pairs) is their pattern, or empty: drawn too.

    ValueError: more poles than there is room for, another number of magnets, or too large ones.
    """
    if not 1 <= 2 * pole_pairs <= MOST_POLES or len(magnets) not in (0, 2 * pole_pairs):
        raise ValueError(f"{pole_pairs} pole pairs, {len(magnets)} magnets: up to {MOST_POLES}, two a pair, or none")
    if any(abs(magnet) > LARGEST_MAGNET for magnet in magnets):
        raise ValueError(f"magnets {magnets}: each within {LARGEST_MAGNET:g}, in units of their size")
    draw = np.random.default_rng(seed)
    lines["place"], lines["width"] = draw.standard_normal((2, 3))
    drawn = np.clip(draw.standard_normal(2 * pole_pairs), -2.5, 2.5)  # a sensor's edges stay in their order
    lines["magnet"] = 0.0
    lines["magnet"][..., : 2 * pole_pairs] = magnets if len(magnets) else drawn - drawn.mean()
    lines["first_random"] = draw.integers(2**63)
    begin_anew(lines)


@compiled
def _transition_deg(hall: Any, lines: Any, s: int, m: int) -> float:
    half = 0.5 * (hall.wider_deg[s] + hall.width_deg * lines.width[s])
    magnet = hall.magnets_deg * lines.magnet[m % hall.poles]
    place = hall.rise_deg[s] + hall.place_deg * lines.place[s]
    return float(180.0 * m + place + magnet + (half if m % 2 else -half))


@compiled
def see_rotor(hall: Any, lines: Any, degrees: float) -> None:
    """Let all sensors see where the rotor is (electrical), and note at which angles the next of them changes."""
    sensors, up, down = 0, inf, -inf
    for s in range(3):
        m = lines.passed[s]
        while degrees >= _transition_deg(hall, lines, s, m + 1) + hall.play_deg:
            m += 1
        while degrees < _transition_deg(hall, lines, s, m) - hall.play_deg:
            m -= 1
        lines.passed[s] = m
        sensors |= (1 - m % 2) << s
        up = min(up, _transition_deg(hall, lines, s, m + 1) + hall.play_deg)
        down = max(down, _transition_deg(hall, lines, s, m) - hall.play_deg)
    lines.sensors, lines.up_deg, lines.down_deg = sensors, up, down


@compiled
def lines_read(hall: Any, lines: Any) -> int:
    """The levels at the inputs, 4 C + 2 B + A."""
    if hall.supply:
        return 0 if hall.supply == LOST_LOW else 7
    bits = ((lines.sensors ^ hall.inverted) | hall.stuck_high) & ~hall.stuck_low
    levels = 0
    for j in range(3):
        levels |= (bits >> hall.order[j] & 1) << j
    if hall.joined[0] >= 0:
        one, other = levels >> hall.joined[0] & 1, levels >> hall.joined[1] & 1
        both = (one | other) if hall.joined_high else (one & other)
        mask = 1 << hall.joined[0] | 1 << hall.joined[1]
        levels = (levels & ~mask) | (mask if both else 0)
    levels |= lines.open
    levels &= lines.noise | ~hall.floating
    return int(levels ^ lines.pulse)
