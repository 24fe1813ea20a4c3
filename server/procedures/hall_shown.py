"""What the page shows of a guided check: the step, its cautions and words, what was found so far. Pure."""

from typing import Any

from server.procedures import hall_check, powered
from server.procedures.by_hand import names_at_first
from server.procedures.hall_guide import GUIDES, SHORT, STEPS, Key
from server.procedures.hall_records import Observation, State
from server.wiring.shown import mend_record, order_words
from server.wiring.trying import push, trying

_FORMS = {Key.PLATE: "names", Key.SUPPLY: "supply", Key.PAIRS: "count", Key.MOVE: "move", Key.STARTS: "starts"}


def check_record(state: State, seen: Observation) -> dict[str, Any]:
    """All of it, as the page and scripts see it."""
    guide = hall_check.guide(state, seen.probed)
    judged = hall_check.judgement(state, seen)
    short = state.short and state.at in SHORT
    return {
        "step": STEPS.index(state.at) + 1,
        "key": state.at.value,
        "short": short,
        "title": guide.title,
        "connected": guide.connected,
        "asks": guide.asks,
        "cautions": list(guide.cautions),
        "agreed": state.agreed,
        "powered": guide.powered,
        "says": judged.says if state.agreed else "",
        "missing": judged.missing if state.agreed else "",
        "odd": judged.odd and state.agreed,
        "done": judged.done,
        "of": judged.of,
        "offers": judged.offers if state.agreed else "",
        "form": "" if short else _form(state, seen),
        "can_short": seen.probed and not state.short and state.at in (Key.PLATE, Key.SUPPLY, Key.LEVELS),
        "finished": state.done,
        "predicted": powered.predicted(state) if state.at is Key.POWER else "",
        "push": push(state.answers.rated_a) if state.at is Key.MATCH and not seen.probed else "",
        "steps": [_step_record(state, key, number) for number, key in enumerate(STEPS, 1)],
        "names": {"halls": list(state.answers.names.halls), "phases": list(state.answers.names.phases)},
        "answers": {
            "pole_pairs": state.answers.pole_pairs,
            "rated_v": state.answers.rated_v,
            "rated_a": state.answers.rated_a,
            "supply_v": state.answers.supply_v,
            "supply_a": state.answers.supply_a,
            "spacing_deg": state.answers.spacing_deg,
        },
        "mends": [mend_record(each, state.answers.names) for each in _mends(state)],
        "mend": state.mend,
        "moved": state.moved,
        "tries": _tries(state),
        "began": sorted(state.began),
        "refused": sorted(state.refused - state.began),
    }


def _form(state: State, seen: Observation) -> str:
    if state.at is Key.MATCH and not seen.probed:
        return "try"
    if state.at is Key.SUPPLY and seen.sensor_v is not None and seen.sensor_a is not None:
        return ""  # the board measures it
    return _FORMS.get(state.at, "")


def _step_record(state: State, key: Key, number: int) -> dict[str, Any]:
    found = state.found.get(key)
    return {
        "number": number,
        "key": key.value,
        "title": GUIDES[key].title,
        "found": "" if found is None else found.text,
        "passed": found is not None and found.passed,
        "odd": found is not None and found.odd,
        "known": found is not None,
    }


def _mends(state: State) -> tuple[Any, ...]:
    if state.at is not Key.MOVE or state.judged is None or state.moved:
        return ()
    return state.judged.mends


def _tries(state: State) -> list[dict[str, str]]:
    """The tries so far and the one to come, in the person's names."""
    known = trying(state.tries)
    names = names_at_first(state)
    rows = [(each.phases, each.showed.value) for each in state.tries]
    if known.next_order is not None and state.at is Key.MATCH:
        rows.append((known.next_order, ""))
    return [
        {
            "order": ", ".join(f"{names.phase(wire)} on {'UVW'[place]}" for place, wire in enumerate(order)),
            "words": order_words(order),
            "showed": showed,
        }
        for order, showed in rows
    ]
