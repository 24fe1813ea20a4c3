"""What the page shows of the wiring: the verdicts, the ways that fit, and what is drawn against electrical angle. Pure.

Angles in electrical degrees as in `around.py`: places of the rotor, whichever way it is turned.
"""

import re
from typing import Any

import numpy as np

from server.verdict import Certainty, Verdict
from server.wiring.around import BIN_DEG, Around, edges_deg, late_deg, right_rise_deg, right_states, rises_deg
from server.wiring.arrangement import AS_IT_IS, HALL_NAMES, ORDERS, PHASE_NAMES, Order
from server.wiring.grounds import Grounds
from server.wiring.names import Names, acts
from server.wiring.order import AGAINST, Judged
from server.wiring.torque import FITS, Mend, Runs, fraction, runs
from server.wiring.verdicts import HOLDS, Judgement

FAR_WORDS = {
    "commutation_good": "Would run as it is wired",
    "commutation_reverse": "Would run the other way round",
    "commutation_weak": "Would run weakly as it is wired",
    "commutation_locks": "Would not turn as it is wired",
}
MISTIMED = ("commutation_late", "commutation_early")  # it runs all the same
_FAULT_WORDS = {  # of answers whose first clause is too long, or says nothing alone
    "hall_supply_missing": "Sensors have no supply or no ground",
    "hall_supply_intermittent": "Supply of the sensors breaks off",
    "voltages_contradict": "Voltage channels contradict",
    "voltages_driven": "Voltages are those of a drive",
    "edges_out_of_time": "Times of edges run backwards",
}
UNKNOWN_WORDS = "Can't be told yet"
_FAR_MAX = 36  # letters that are read from across the room
_BRACKETS = re.compile(r" \([^)]*\)")
_CLAUSE_ENDS = re.compile(r"[:.](?:\s+|$)")  # "B stays low: the sensor, ..."; not within a number
_IN_PLACE_DEG = 5.0  # no dimension is drawn below that


def verdict_record(verdict: Verdict) -> dict[str, Any]:
    """One verdict as the page and scripts see it."""
    test = verdict.next_test
    return {
        "key": verdict.key,
        "question": verdict.question,
        "answer": verdict.answer,
        "certainty": verdict.certainty.value,
        "signs": [{"speaks": sign.speaks.value, "text": sign.text} for sign in verdict.signs],
        "open": list(verdict.open),
        "next_test": None if test is None else {"text": test.text, "caution": test.caution},
    }


def far_record(judgement: Judgement, names: Names) -> dict[str, str]:
    """What is read from across the room: what would happen, and below it what mends it, or what is wrong first."""
    judged, first = judgement.order, judgement.verdicts[0]
    word = FAR_WORDS.get(judged.verdict.key, UNKNOWN_WORDS)
    moved = [way for way in judged.mends if way.to.plugs]
    if moved and not judged.now.inverted:  # else the moves are right only once an input is read inverted: that is first
        said = [" and ".join(_lower(act).rstrip(".") for act in acts(way.to, names)) for way in moved]
        return {"word": word, "below": f"{_probably(judged)}{', or '.join(said)}"}
    clause, _, rest = _CLAUSE_ENDS.sub("\n", first.answer, count=1).partition("\n")
    mistimed = first.key in MISTIMED
    if first.key == judged.verdict.key or first.key in HOLDS or mistimed:
        known = "; ".join(filter(None, (_against(judged), clause if mistimed else _mistimed(judged))))
        return {"word": word, "below": judged.verdict.answer if word is UNKNOWN_WORDS else _probably(judged) + known}
    if first.key in _FAULT_WORDS:
        return {"word": _FAULT_WORDS[first.key], "below": first.answer}
    if len(clause) > _FAR_MAX:
        return {"word": _shortened(clause), "below": first.answer}
    return {"word": clause, "below": rest}


def _shortened(clause: str) -> str:
    """Without what stands in brackets, then up to a comma; where that is too long, as many words as there is room."""
    plain = _BRACKETS.sub("", clause)
    head = re.split("[,;]", plain)[0] if len(plain) > _FAR_MAX else plain
    return head if len(head) <= _FAR_MAX else f"{head[:_FAR_MAX].rpartition(' ')[0]} \u2026"


def _probably(judged: Judged) -> str:
    return "" if judged.verdict.certainty is Certainty.PLAIN else "probably, turn further to settle it; "


def _against(judged: Judged) -> str:
    """Which way the hand turned it, where that is not the drive's: no fault of the wiring."""
    right = judged.verdict.key == "commutation_good"
    return AGAINST if right and judged.fraction is not None and judged.fraction < 0 else ""


def _mistimed(judged: Judged) -> str:
    """By the torque fraction, where no edge has an angle."""
    off = judged.fraction is not None and runs(judged.fraction) is Runs.MISTIMED
    return "its timing is off by 20 degrees or more" if off else ""


def mend_record(mend: Mend, names: Names) -> dict[str, Any]:
    """A way to mend it, and each cable that is moved: `to[k]` is the place to which the wire that is on k now goes."""
    cables = [
        {"what": what, "places": list(letters), "names": list(called), "to": _goes(order)}
        for what, letters, called, order in (
            ("Hall wires", HALL_NAMES, names.halls, mend.to.halls),
            ("leads", PHASE_NAMES, names.phases, mend.to.phases),
        )
        if order != AS_IT_IS
    ]
    runs = "it then runs the way you turned it" if mend.fraction > 0 else "it then runs the other way round"
    return {
        "acts": list(acts(mend.to, names)),
        "runs": runs,
        "fraction": round(mend.fraction, 3),
        "plugs": mend.to.plugs,
        "cables": cables,
    }


def fits_record(grounds: Grounds, judged: Judged) -> list[dict[str, Any]]:
    """The six orders of the leads with the Hall wires as they are, best first; empty where nothing is known of them."""
    if judged.fraction is None:
        return []
    found = grounds.fractions(judged.now.spacing_deg)
    sizes = {order: fraction(found, judged.now._replace(phases=order)) for order in ORDERS}
    best = max(sizes, key=lambda order: abs(sizes[order]))
    return [
        {
            "words": order_words(order),
            "fraction": round(sizes[order], 3),
            "now": order == AS_IT_IS,
            "best": order == best and abs(sizes[order]) >= FITS,
        }
        for order in sorted(sizes, key=lambda order: -sizes[order])
    ]


def order_words(order: Order, letters: str = PHASE_NAMES) -> str:
    """An order of the wires against that of now, in few words."""
    moved = [place for place, wire in enumerate(order) if place != wire]
    if not moved:
        return "as wired"
    if len(moved) == 2:
        return f"exchange {letters[moved[0]]}, {letters[moved[1]]}"
    return ", ".join(f"{letters[wire]} to {letters[place]}" for wire, place in enumerate(_goes(order)))


def timing_record(around: Around, judged: Judged) -> dict[str, Any] | None:
    """What is drawn against electrical angle; None until every part of a turn was seen with voltage."""
    if not around.complete or not around.sense:
        return None
    ahead = judged.fraction is None or judged.fraction > -FITS
    rises, right = rises_deg(around.shares()), right_rise_deg(around.sense, ahead)
    late = [None if one is None else late_deg(one, due, around.sense) for one, due in zip(rises, right, strict=True)]
    shares, volts = around.shares(), around.volts()
    found = [_state_at(shares, 60.0 * k + 60.0) for k in range(6)]
    halls = [
        {
            "name": name,
            "rise_deg": None if rise is None else round(rise, 1),
            "right_deg": wanted,
            "late_deg": None if off is None else round(off, 1),
            "edges": [[round(deg, 1), int(up)] for deg, up in edges_deg(shares[k])],
            "high": int(shares[k, 0] >= 0.5),
            "words": _placed(rise, off, len(edges_deg(shares[k]))),
            "dimension": abs(off or 0.0) >= _IN_PLACE_DEG,
        }
        for k, (name, rise, wanted, off) in enumerate(zip(HALL_NAMES, rises, right, late, strict=True))
    ]
    states = right_states(around.sense, ahead)
    return {
        "bin_deg": BIN_DEG,
        "turns": round(around.turns, 1),
        "turns_hz": round(around.turns_hz, 3),
        "ahead": ahead,
        "volts": {pair: [_rounded(value) for value in volts[k]] for k, pair in enumerate(("UW", "VU", "WV"))},
        "peak_v": _rounded(float(np.nanmax(np.abs(volts)))),
        "rms_v": _rounded(float(np.sqrt(np.nanmean(volts**2)))),
        "halls": halls,
        "found": found,
        "right": list(states),
        "sentence": _sentence(halls, found, states),
    }


def _state_at(shares: Any, angle_deg: float) -> int:
    """The state in the middle of a sixth of a turn."""
    at = round(angle_deg / BIN_DEG - 0.5) % shares.shape[1]
    return sum(int(shares[k, at] >= 0.5) << k for k in range(3))


def _placed(rise: float | None, late: float | None, edges: int) -> list[str]:
    if rise is None or late is None:
        return ["not two edges", "in a turn"] if edges else ["never changes", ""]
    how = "in place" if abs(late) < _IN_PLACE_DEG else f"{abs(late):.0f}° {'late' if late > 0 else 'early'}"
    return [how, f"rises at {rise % 360.0:.0f}°"]


def _sentence(halls: list[dict[str, Any]], found: list[int], right: tuple[int, ...]) -> str:
    said = [
        f"Hall {each['name']} {each['words'][0]}"
        if each["rise_deg"] is None
        else f"Hall {each['name']} rises at {each['rise_deg']:.0f} degrees, should at {each['right_deg']:.0f}"
        for each in halls
    ]
    wrong = sum(one != other for one, other in zip(found, right, strict=True))
    return f"{'. '.join(said)}. {wrong} of six states differ from the right ones."


def _goes(order: Order) -> list[int]:
    """By wire, named by its place now: the place that it goes to."""
    return [order.index(wire) for wire in range(3)]


def _lower(sentence: str) -> str:
    return sentence[:1].lower() + sentence[1:]


def _rounded(value: float) -> float | None:
    return None if not np.isfinite(value) else float(f"{value:.4g}")
