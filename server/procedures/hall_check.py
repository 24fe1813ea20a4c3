"""The guided check from nothing connected to a verdict as a state machine: what is seen and done, to the next state.

Pure. A step is open once its cautions were seen. It passes by itself when the samples show it; then the next one comes,
whose cautions stand before it. A caution that was agreed to at an earlier step is shown but need not be agreed to
again, unless the step is powered: those are always agreed to anew.
"""

from collections.abc import Callable
from dataclasses import replace
from types import MappingProxyType

from server.procedures import by_hand, marked_turns, powered
from server.procedures.hall_guide import GUIDES, SHORT, SHORT_WAY, STEPS, TRYING, Guide, Key
from server.procedures.hall_records import Act, Answers, Found, Observation, State, StepStands, Told
from server.wiring.arrangement import Arrangement
from server.wiring.first_power import limit_words
from server.wiring.names import names_after
from server.wiring.order import order_verdict
from server.wiring.trying import Showed, Try, trying

_JUDGES: dict[Key, Callable[[State, Observation], StepStands]] = {
    Key.PLATE: by_hand.plate,
    Key.SUPPLY: by_hand.supply,
    Key.LEVELS: by_hand.levels,
    Key.ORDER: by_hand.order,
    Key.PAIRS: marked_turns.pairs,
    Key.MATCH: by_hand.match,
    Key.TIMING: by_hand.timing,
    Key.MOVE: by_hand.move,
    Key.POWER: powered.power,
    Key.STARTS: powered.starts,
    Key.LOAD: powered.load,
}


def begun() -> State:
    """A check that has just begun."""
    return State()


def step(state: State, seen: Observation, told: Told | None = None) -> State:
    """The state after one more window, or, between windows, after what a person did. Steps that have passed are passed
    once a call."""
    seen = _of_this(state, seen)
    if told is not None and told.at not in (None, state.at):
        return state  # it went on by itself just before the press
    if told is not None:
        state = _acted(state, seen, told)
        seen = _of_this(state, seen)
    if state.done or not state.agreed:
        return state
    if told is None and state.at is Key.STARTS:
        state = powered.watched(state, seen)
    elif told is None and state.at is Key.LOAD:
        state = powered.ran(state, seen)
    judged = judgement(state, seen)
    if not judged.passed:
        return state
    return _passed(state, seen, Found(True, judged.says, judged.odd))


def judgement(state: State, seen: Observation) -> StepStands:
    """How the step stands that the check is at."""
    seen = _of_this(state, seen)
    if state.short and state.at in SHORT:
        return by_hand.short_way(state, seen)
    return _JUDGES[state.at](state, seen)


def guide(state: State, probed: bool) -> Guide:
    """The words of the step; `probed`: the board measures the leads' voltages."""
    if state.short and state.at in SHORT:
        return SHORT_WAY
    its = TRYING if state.at is Key.MATCH and not probed else GUIDES[state.at]
    return replace(its, connected=its.connected.replace("{limit}", limit_words(state.answers.rated_a)))


def forward_said(state: State) -> bool | None:
    """Whether a person was asked to turn forward at this step; None: either way."""
    if state.at in (Key.ORDER, Key.MATCH, Key.MOVE) or (state.short and state.at in SHORT):
        return True
    return None


def _acted(state: State, seen: Observation, told: Told) -> State:
    """What a person did; an act that does not fit the step changes nothing."""
    act = told.act
    if act is Act.BACK:
        out = state.at in SHORT  # of the short way, which is chosen again or not
        return _at(replace(state, short=state.short and not out), _neighbour(state, -1), seen)
    if act is Act.REPEAT:
        return _repeated(state, seen)
    if state.done:
        return state
    if act is Act.SKIP:
        return _passed(state, seen, Found(False, "Skipped."))
    if act is Act.ANSWER and told.answers is not None:
        return replace(state, answers=told.answers, answered=True)
    if act is Act.SHORT and seen.probed and state.at in (Key.PLATE, Key.SUPPLY, Key.LEVELS):
        answers = state.answers if told.answers is None else told.answers  # what was typed and not sent yet
        return _at(replace(state, short=True, answers=answers, found=_without(state, SHORT)), Key.LEVELS, seen)
    if act is Act.AGREE:
        texts = frozenset(guide(state, seen.probed).cautions)
        return replace(state, agreed=True, agreed_to=state.agreed_to | texts, opening=state.opening + 1)
    return _acted_open(state, seen, told) if state.agreed else state


def _acted_open(state: State, seen: Observation, told: Told) -> State:
    """What can be done only once the cautions were seen."""
    act, at = told.act, state.at
    if act is Act.ACCEPT:
        judged = judgement(state, seen)
        return _passed(state, seen, Found(False, f"{judged.says} {judged.offers}.")) if judged.offers else state
    if act is Act.COUNTED and at is Key.PAIRS and seen.grounds is not None:
        count = abs(seen.grounds.course.turned)
        return replace(state, counts=(*state.counts, count)[-4:], opening=state.opening + 1)
    if act is Act.TRIED and at is Key.MATCH and told.showed is not None and not seen.probed:
        return _tried(state, told.showed)
    if act is Act.MEND and at is Key.MOVE and state.judged is not None and not state.moved:
        return replace(state, mend=min(max(told.choice, 0), len(state.judged.mends) - 1))
    if act is Act.MOVED and at is Key.MOVE and not state.moved:
        return replace(state, moved=True, answers=_moved_names(state), opening=state.opening + 1)
    return state


def _tried(state: State, showed: Showed) -> State:
    order = trying(state.tries).next_order
    if order is None:
        return state
    names = names_after(by_hand.names_at_first(state), Arrangement(phases=order))  # the leads are there now
    over = showed in (Showed.WELL, Showed.REVERSE)  # else the next one is powered too, and warned of
    answers = replace(state.answers, names=names)
    return replace(state, answers=answers, tries=(*state.tries, Try(order, showed)), agreed=over)


def _moved_names(state: State) -> Answers:
    """Names follow their wires to other places."""
    assert state.judged is not None
    to = state.judged.mends[state.mend].to
    return replace(state.answers, names=names_after(state.answers.names, to))


def _passed(state: State, seen: Observation, found: Found) -> State:
    """The step is behind; what it learned is kept for those that follow."""
    keys = SHORT if state.short and state.at in SHORT else (state.at,)
    learned = _learned(state, seen) if found.passed else _judged(state, _of_this(state, seen))
    texts = dict.fromkeys(keys, found)
    if len(keys) > 1 and found.passed:
        texts = {key: _of_short(learned, seen, key) for key in keys}
    learned = replace(learned, found=MappingProxyType({**state.found, **texts}))
    return _at(learned, _neighbour(learned, 1), seen)


def _learned(state: State, seen: Observation) -> State:
    grounds = seen.grounds
    if grounds is None:
        return state
    short = state.short and state.at in SHORT
    if state.at is Key.ORDER:
        state = replace(state, forward=1 if grounds.course.turned > 0 else -1)
    elif short:
        ahead, back = by_hand.one_way(grounds)
        state = replace(state, forward=by_hand.first_sense(grounds), counts=(round(ahead / 2), round(back / 2)))
    return _judged(state, seen)


def _judged(state: State, seen: Observation) -> State:
    """With the order as the step saw it, also where the step is skipped: wires that are wrong are not passed by."""
    grounds = seen.grounds
    if grounds is None or not grounds.probed or not (state.at is Key.MATCH or (state.short and state.at in SHORT)):
        return state
    judged = order_verdict(grounds)
    return state if judged.fraction is None else replace(state, judged=judged, mend=0, moved=False)


def _of_short(state: State, seen: Observation, key: Key) -> Found:
    """What one turning of all says to each of the steps that it stands for; missing is never hidden."""
    judged = _JUDGES[key](replace(state, short=False), seen)
    said = judged.says if judged.passed else f"{judged.says} Missing: {judged.missing}.".strip()
    return Found(judged.passed, said, judged.odd)


def _neighbour(state: State, way: int) -> Key | None:
    """The step behind or before; what the short way answers is one step; nothing to move is passed by."""
    at = STEPS.index(state.at)
    if state.short and state.at in SHORT:
        at = STEPS.index(SHORT[-1 if way > 0 else 0])
    to = at + way
    if 0 <= to < len(STEPS) and STEPS[to] is Key.MOVE and not _to_move(state):
        to += way
    if not 0 <= to < len(STEPS):
        return None
    return SHORT[0] if state.short and STEPS[to] in SHORT else STEPS[to]


def _to_move(state: State) -> bool:
    judged = state.judged
    return judged is not None and bool(judged.mends) and judged.mends[0].to.plugs > 0


def _at(state: State, key: Key | None, seen: Observation) -> State:
    """Go to a step; behind the last one the check is done."""
    if key is None:
        last = state.at is STEPS[-1]
        return replace(state, done=last)
    state = replace(state, at=key, done=False, answered=False, opening=state.opening + 1)
    if key is not Key.STARTS:
        state = replace(state, rest_sector=0)
    its = guide(state, seen.probed)
    return replace(state, agreed=not its.cautions or (not its.powered and set(its.cautions) <= state.agreed_to))


def _repeated(state: State, seen: Observation) -> State:
    """The step from its beginning; what it gathered is forgotten, what was moved stays moved."""
    match state.at:
        case Key.PAIRS:
            state = replace(state, counts=())
        case Key.MATCH:
            state = replace(state, tries=(), judged=None)
        case Key.STARTS:
            state = replace(state, began=frozenset(), refused=frozenset())
        case Key.LOAD:
            state = replace(state, ran=MappingProxyType({}))
    return _at(replace(state, found=_without(state, (state.at,))), state.at, seen)


def _without(state: State, keys: tuple[Key, ...]) -> MappingProxyType[Key, Found]:
    return MappingProxyType({key: found for key, found in state.found.items() if key not in keys})


def _of_this(state: State, seen: Observation) -> Observation:
    """What was gathered before the step was opened says nothing of it."""
    return seen if seen.opening == state.opening else replace(seen, grounds=None)
