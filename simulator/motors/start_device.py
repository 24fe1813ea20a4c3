"""What opens and closes the start branch of a single-phase motor, and what opens its line when it is too warm.

centrifugal switch  opens at a speed (either way round), closes again at a lower one while it coasts; parts at a zero
                    of its current (single_phase.py). Worn: after parting it closes again 2 to 4 times, 1 to 5 ms later.
current relay       open at rest; closes where the main winding's RMS of one supply cycle exceeds its pick-up, opens
                    below its drop-out.
PTC                 ln R = ln R_cold + ln(R_hot / R_cold) / (1 + exp(-(theta - theta_s) / d)),
                    C d(theta)/dt = P - (theta - theta_air) / R_th;  above a limit (`aside_ohm`) its current is too
                    small for the fields: it counts as open, and what it lets through is the voltage there over R.
thermal cut-out     opens the line at a temperature of the winding, closes it at a lower one.

The switch is the domain's usual one; relay, PTC and cut-out are textbook knowledge, without published figures.
"""

from math import exp, log
from typing import Any

from simulator.physics.stepping import compiled

NONE, CENTRIFUGAL, RELAY, PTC = 0, 1, 2, 3
PTC_AMBIENT_C = 25.0
BACK = 0.8  # of aside_ohm: a PTC below it counts as closed again


@compiled
def _drawn(s: Any) -> float:
    s.drawn = (s.drawn + 1) % len(s.draws)
    return float(s.draws[s.drawn])


@compiled
def _centrifugal(case: Any, s: Any, closed: bool, w: float, h: float) -> bool:
    if s.moved == 0 and abs(w) >= case.opens_rad_s:
        s.moved = 1
        if case.worn != 0:
            s.bounces, s.pause_s = 2 + int(3.0 * _drawn(s)), 0.001 + 0.004 * _drawn(s)
    elif s.moved != 0 and abs(w) <= case.closes_rad_s:
        s.moved, s.bounces = 0, 0
    if s.moved == 0:
        return True
    if closed or s.bounces == 0:
        return False
    s.pause_s -= h
    if s.pause_s > 0.0:
        return False
    s.bounces -= 1
    s.pause_s = 0.001 + 0.004 * _drawn(s)
    return True


@compiled
def _relay(case: Any, s: Any, main_a: float, wrapped: bool) -> bool:
    s.square_a2 += main_a * main_a
    s.square_count += 1
    if wrapped:
        mean = s.square_a2 / s.square_count
        if mean > case.pick_up_a * case.pick_up_a:
            s.moved = 1
        elif mean < case.drop_out_a * case.drop_out_a:
            s.moved = 0
        s.square_a2, s.square_count = 0.0, 0
    return bool(s.moved != 0)


@compiled
def start_closed(case: Any, s: Any, closed: bool, w: float, main_a: float, wrapped: bool, h: float) -> bool:
    """Whether the contact is to be closed after a step of `h` seconds; `wrapped`: a supply cycle has ended in it."""
    if case.device == PTC:
        return bool(s.moved == 0)
    wanted = _centrifugal(case, s, closed, w, h) if case.device == CENTRIFUGAL else _relay(case, s, main_a, wrapped)
    if case.stuck != 0:
        return bool(case.stuck > 0)
    return wanted


@compiled
def ptc_ohm(case: Any, s: Any) -> float:
    """Resistance at the PTC's temperature."""
    rise = 1.0 / (1.0 + exp(-(s.ptc_c - case.ptc_c) / case.ptc_width_k))
    return float(case.ptc_cold_ohm * exp(log(case.ptc_hot_ohm / case.ptc_cold_ohm) * rise))


@compiled
def warmed_ptc(case: Any, s: Any, current_a: float, gap_v: float, ohm: float, seconds: float) -> None:
    """The PTC after a short time with this current, or as good as open with this voltage across it."""
    power = gap_v * gap_v / ohm if s.moved != 0 else current_a * current_a * ohm
    s.ptc_c += seconds * (power - (s.ptc_c - PTC_AMBIENT_C) / case.ptc_k_w) / case.ptc_j_k
    ohm = ptc_ohm(case, s)
    if ohm > case.aside_ohm:
        s.moved = 1
    elif ohm < BACK * case.aside_ohm:
        s.moved = 0


@compiled
def cutout_closed(case: Any, s: Any) -> int:
    """1 closed, 0 open."""
    if s.winding_c >= case.cutout_opens_c:
        return 0
    return 1 if s.winding_c <= case.cutout_closes_c else int(s.cutout)
