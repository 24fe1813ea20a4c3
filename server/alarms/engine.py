"""All alarms of a rig over time: what was seen goes in, what is told comes out. Pure.

Holds are measured in board time, so that what comes late all at once raises nothing that it would not have raised in
time. Silence is measured in time that this service was awake: a PC that slept an hour did not miss the board for one.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from server.alarms.coasting import coasted
from server.alarms.heat import heated
from server.alarms.judging import Judgement, judged
from server.alarms.life import NOT_WATCHED, Life, Shelf, State, Watching
from server.alarms.notice import Notice
from server.alarms.rule import BY_CLOCK, LATCHED, Cause, Rule
from server.alarms.seen import Seen
from server.alarms.series import Series, anew, of_these, taken, with_one
from server.alarms.telling import (
    QUICK,
    QUIET_S,
    Teller,
    acknowledged,
    came,
    came_back,
    over,
    reasons,
    shelved,
    unshelved,
)
from server.alarms.watched import COASTING, TEMPERATURE, Figures, Numbers, figures_of
from server.readings import Confidence

SHELF_MAX_S = 12 * 3600.0  # a shelf is no way to turn an alarm off (ISA-18.2: with a limit; from memory)
NOTE_MAX = 200
DOUBTFUL_HOLD_S = 2.0  # of a run state that is not sure
PATIENCE_S = 1.0  # so long a stretch that decides nothing does not begin a hold anew
SILENT_S = 2.0  # then an alarm that stands says that it can't be told now
_END_HOLD_S = {Cause.VERDICT: 10.0}  # it is concluded anew after a start of the service, window by window
_WARMTH_S = 30.0  # so long at least the last temperature holds
_AWAKE_MAX_S = 2.0  # between two looks; more: nobody looked, the service was stopped or the PC slept


@dataclass(frozen=True, slots=True)
class Act:
    """What a person does with an alarm: `what` is "acknowledge", "shelve" or "unshelve"; `name` of its rule."""

    what: str
    name: str
    at_utc_s: float
    note: str = ""
    by: str = ""
    until_utc_s: float = 0.0


def step(state: State, rules: Sequence[Rule], rig: str, seen: Seen) -> tuple[State, tuple[Notice, ...]]:
    """One window more, or time that has passed without one. Returns what holds then, and what is told of it."""
    passed_s = 0.0 if state.now_s is None else min(max(seen.now_s - state.now_s, 0.0), _AWAKE_MAX_S)
    awake_s = state.awake_s + passed_s
    heard_s = state.heard_s if seen.board_s is None else awake_s
    state = replace(state, awake_s=awake_s, now_s=seen.now_s, heard_s=heard_s, run_state=_run_state(state, seen))
    state = replace(state, warmth=_warmth(state, seen))
    teller = Teller(rig, state.number, seen.at_utc_s)
    by_name = {rule.name: rule for rule in rules}
    watching: dict[str, Watching] = {}
    for name in dict.fromkeys([*state.watching, *by_name]):
        its = state.watching.get(name, Watching())
        if name not in by_name:
            its = over(replace(its, shelf=None, series=()), teller, f"It {NOT_WATCHED}")
            if its.life is not None:  # stands until it is acknowledged
                watching[name] = its
            continue
        watching[name] = _looked(by_name[name], its, state, seen, teller)
    return replace(state, number=teller.number, watching=watching), tuple(teller.notices)


def acted(state: State, rules: Sequence[Rule], rig: str, act: Act) -> tuple[State, tuple[Notice, ...]]:
    """What a person did. Nothing is told where there is nothing of that name to do it with."""
    rule = next((rule for rule in rules if rule.name == act.name), None)
    its = state.watching.get(act.name)
    if its is None:
        return state, ()
    teller = Teller(rig, state.number, act.at_utc_s)
    note = act.note[:NOTE_MAX]
    if act.what == "acknowledge":
        its = acknowledged(rule, its, teller, note, act.by)
        if rule is not None and rule.cause is Cause.DRIFT and teller.notices:
            its = replace(its, series=tuple(map(anew, its.series)))
    elif rule is not None and act.what == "shelve":
        until_utc_s = min(act.until_utc_s, act.at_utc_s + SHELF_MAX_S)
        its = shelved(rule, its, teller, Shelf(until_utc_s, note, act.by))
    elif rule is not None and act.what == "unshelve":
        its = unshelved(rule, its, teller, act.by)
    watching = {**state.watching, act.name: its}
    if rule is None and its.life is None:
        del watching[act.name]
    return replace(state, number=teller.number, watching=watching), tuple(teller.notices)


def _run_state(state: State, seen: Seen) -> str:
    """The last one that was known."""
    reading = seen.readings.get("run_state")
    return state.run_state if reading is None or reading.value in (None, "unknown") else str(reading.value)


def _warmth(state: State, seen: Seen) -> dict[str, tuple[float, float]]:
    """Temperatures have slow channels, whose samples come alone: figures of a window take the last one."""
    until_s = state.awake_s + max(_WARMTH_S, 3.0 * seen.interval_s)
    come = {key: (its, until_s) for key, its in good_numbers(seen).items() if key.startswith(TEMPERATURE)}
    return {key: its for key, its in state.warmth.items() if state.awake_s <= its[1]} | come


def _looked(rule: Rule, its: Watching, state: State, seen: Seen, teller: Teller) -> Watching:
    if its.shelf is not None and seen.at_utc_s >= its.shelf.until_utc_s:
        its = unshelved(rule, its, teller, "")
    if seen.anew:
        its = replace(its, since_s=None, last_s=None)
    if (seen.board_s is None) != (rule.cause in BY_CLOCK):
        silent = seen.board_s is None and state.heard_s is not None and state.awake_s - state.heard_s >= SILENT_S
        return replace(its, life=_unknown(its, "no samples come")) if silent and rule.cause not in LATCHED else its
    if rule.cause is Cause.VERDICT and not seen.readings:  # it is concluded of windows, and dated by them
        return its
    if rule.cause is Cause.DRIFT:
        return _drift(rule, its, state, seen, teller)
    silent_s = None if state.heard_s is None else state.awake_s - state.heard_s
    if rule.cause is Cause.OVERLOAD:
        its = replace(its, heat=heated(its.heat, seen, rule.its.trip_class))
    judgement = judged(rule, seen, its.active, state.run_state, silent_s, its.heat)
    if rule.cause is Cause.EVENT:
        if not judgement.so:
            return its
        its = replace(its, why=(judgement.why, "", ""))
        return came(rule, its, teller, state.awake_s, judgement.times)
    if rule.cause is Cause.PLAN:
        return _tested(rule, its, judgement, state.awake_s, teller)
    if judgement.so is None:
        return replace(its, life=_unknown(its, judgement.why))
    clock_s = state.awake_s if seen.board_s is None else seen.board_s
    if rule.cause is Cause.VERDICT and its.last_s is not None:  # any group's window, and not all end in turn
        clock_s = max(clock_s, its.last_s)
    patience_s = 2.0 * _AWAKE_MAX_S if rule.cause in BY_CLOCK else max(PATIENCE_S, 3.0 * seen.interval_s)
    passed_s = 0.0 if its.last_s is None else clock_s - its.last_s
    if not 0.0 <= passed_s <= patience_s:
        its, passed_s = replace(its, since_s=None), 0.0
    if rule.cause is Cause.SILENCE and judgement.so and its.active is (its.since_s is not None):
        passed_s = silent_s or 0.0  # it begins, or is back: it was silent all the while until it was told
    its = replace(its, last_s=clock_s)
    its = _so(rule, its, judgement, passed_s) if judgement.so else _not_so(its)
    return _held(rule, its, judgement, clock_s, state.awake_s, teller)


def _tested(rule: Rule, its: Watching, judgement: Judgement, awake_s: float, teller: Teller) -> Watching:
    """Told once when it becomes so; that it is so still is known after it was acknowledged, too."""
    if judgement.so is None or judgement.so is its.active:
        return its
    if judgement.so:
        return came(rule, replace(its, why=(judgement.why, "", "")), teller, awake_s)
    return over(its, teller, "By the plan and the runs of now it is not so.")


def _held(rule: Rule, its: Watching, judgement: Judgement, clock_s: float, awake_s: float, teller: Teller) -> Watching:
    """Begins or ends when the contrary was seen for the hold."""
    stands = its.life is not None and its.life.ended_utc_s is None
    chatters = its.active and stands and len(its.came_s) == QUICK
    if judgement.so is its.active:
        back = chatters and its.since_s is not None and clock_s - its.since_s >= rule.hold_s
        its = replace(its, since_s=None)
        return came_back(its, teller, awake_s) if back else its
    hold_s = max(rule.hold_s, _END_HOLD_S.get(rule.cause, 0.0))
    if judgement.so:
        hold_s = max(rule.hold_s, DOUBTFUL_HOLD_S * judgement.doubtful)
    since_s = clock_s if its.since_s is None else its.since_s
    if its.active and stands:
        held = chatters and clock_s - since_s >= rule.hold_s
        its = replace(its, life=_quiet(its.life, teller.at_utc_s, held))
    its = replace(its, since_s=since_s)
    if clock_s - since_s < hold_s or (chatters and _is_held(its.life, teller.at_utc_s)):
        return its
    return came(rule, its, teller, awake_s) if judgement.so else over(its, teller)


def _so(rule: Rule, its: Watching, judgement: Judgement, passed_s: float) -> Watching:
    """The figures of now, for the alarm that stands and for the one that may come."""
    life, so_s = its.life, its.so_s + passed_s
    why = (judgement.why, judgement.value, judgement.limit)
    its = replace(its, why=why, was=judgement.was, so_s=so_s)
    if life is None or life.ended_utc_s is not None:
        return its
    life = replace(life, value=judgement.value, limit=judgement.limit, unknown="", so_s=so_s)
    if life.quiet_utc_s is not None:
        present, past = reasons(rule, its)
        life = replace(life, why=present, was=past, quiet_utc_s=None, held_until_utc_s=None)
    return replace(its, life=life)


def _not_so(its: Watching) -> Watching:
    """What was so for less than its hold, before any alarm, is not counted."""
    if its.life is None:
        return its if its.active else replace(its, so_s=0.0)
    return replace(its, life=replace(its.life, unknown="")) if its.life.unknown else its


def _quiet(life: Life | None, at_utc_s: float, held: bool) -> Life | None:
    """The alarm that stands is not so from now on. `held`: it keeps coming and has not been so for its hold, so it
    stands for a while from when it was last so, whatever cannot be told meanwhile."""
    if life is None:
        return None
    quiet_utc_s = at_utc_s if life.quiet_utc_s is None else life.quiet_utc_s
    until_utc_s = quiet_utc_s + QUIET_S if held else life.held_until_utc_s
    if (quiet_utc_s, until_utc_s) == (life.quiet_utc_s, life.held_until_utc_s):
        return life
    return replace(life, quiet_utc_s=quiet_utc_s, held_until_utc_s=until_utc_s)


def _is_held(life: Life | None, at_utc_s: float) -> bool:
    return life is not None and life.quiet_utc_s is not None and at_utc_s < life.quiet_utc_s + QUIET_S


def _unknown(its: Watching, why: str) -> Life | None:
    """The alarm that stands says that nobody can tell now; it does not end by it."""
    life = its.life
    if life is None or life.ended_utc_s is not None or not why:
        return life
    return replace(life, unknown=why)


def _drift(rule: Rule, its: Watching, state: State, seen: Seen, teller: Teller) -> Watching:
    sets = figures_of(rule.name, rule.its.drift)
    least = rule.its.least_percent or 0.0
    before = its.series if len(its.series) == len(sets) else (Series(),) * len(sets)
    coast, coasts = (its.coast, None) if seen.fast is None else coasted(its.coast, seen.fast)
    running = state.run_state == "running"
    numbers = {**{key: last for key, (last, _) in state.warmth.items()}, **good_numbers(seen)} if running else {}
    series = tuple(
        _more(of_these(each, figures), figures, numbers, running, seen.at_utc_s, coasts, least)
        for each, figures in zip(before, sets, strict=True)
    )
    its = replace(its, series=series, coast=coast)
    found = next(((each, figures) for each, figures in zip(series, sets, strict=True) if each.drift), None)
    if found is None or its.life is not None or its.shelf is not None:
        return its
    return came(rule, replace(its, why=drift_words(*found)), teller, state.awake_s)


def _more(
    series: Series, figures: Figures, numbers: Numbers, running: bool, at_s: float, coasts: Numbers | None, least: float
) -> Series:
    of_coasts = figures is COASTING
    series = taken(series, figures, {} if of_coasts else numbers, running, at_s, least)
    return with_one(series, figures, coasts, at_s, least) if of_coasts and coasts is not None else series


def good_numbers(seen: Seen) -> Numbers:
    """Good readings that are numbers, by their id."""
    return {
        key: float(reading.value)
        for key, reading in seen.readings.items()
        if reading.confidence is Confidence.GOOD and isinstance(reading.value, float)
    }


def drift_words(series: Series, figures: Figures) -> tuple[str, str, str]:
    """A sentence with the changes of all figures, the first of them alone, and over how long."""
    span_h = (series.blocks[-1].begin_s - series.blocks[0].begin_s) / 3600.0
    told = [f"{found.percent:+.1f}\u00a0%".replace("-", "\u2212") for found in series.drift]
    names = [figure.name.replace("_", " ") for figure in figures]
    changes = ", ".join(f"{name} {text}" for name, text in zip(names, told, strict=True))
    return f"Drifted in {span_h:.1f} h: {changes}.", told[0], f"in {span_h:.1f}\u00a0h"
