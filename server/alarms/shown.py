"""Alarms as pages and scripts see them (SOCKET.md, `alarms`). Pure."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict

from server.alarms.engine import DOUBTFUL_HOLD_S
from server.alarms.judging import label, limit_words
from server.alarms.known import EVENT_KINDS, VERDICT_KEYS
from server.alarms.life import Life, State, Watching
from server.alarms.notice import Rank
from server.alarms.ready import BEHIND, READY
from server.alarms.rule import Cause, Rule
from server.config import AlarmSettings

SHOWN_MAX = 20  # in a picture; the others are counted


def standing(state: State, rig: str) -> list[dict[str, object]]:
    """All alarms of a rig that are not over, shelved ones too."""
    return [alarm_record(rig, name, its, its.life) for name, its in state.watching.items() if its.life is not None]


def alarm_record(rig: str, name: str, its: Watching, life: Life) -> dict[str, object]:
    """One of the `alarms` of SOCKET.md."""
    return {
        "rig": rig,
        "id": life.id,
        "name": name,
        "rank": life.rank.value,
        "act": life.first,
        "why": life.said,
        "reading": life.reading,
        "value": life.value,
        "limit": life.limit,
        "unknown": life.unknown,
        "more": life.more,
        "first_utc_s": life.first_utc_s,
        "first_id": life.first_id,
        "so_s": round(life.so_s, 1),
        "quiet_utc_s": life.quiet_utc_s,
        "held_until_utc_s": life.held_until_utc_s,
        "raised_utc_s": life.raised_utc_s,
        "acknowledged": None if life.acknowledged is None else asdict(life.acknowledged),
        "ended_utc_s": life.ended_utc_s,
        "shelved_until_utc_s": None if its.shelf is None else its.shelf.until_utc_s,
    }


def worst_first(alarms: Iterable[Mapping[str, object]]) -> list[Mapping[str, object]]:
    """Without shelved ones; rank before all, then what nobody has acknowledged, what is so now, what came last; behind
    its like what mostly follows from another one."""

    def place(alarm: Mapping[str, object]) -> tuple[bool, bool, bool, bool, float]:
        raised = alarm["raised_utc_s"]
        assert isinstance(raised, float | int)
        seen = alarm["acknowledged"] is not None
        return alarm["rank"] != Rank.ALARM.value, seen, not is_so(alarm), alarm["name"] in BEHIND, -raised

    return sorted((alarm for alarm in alarms if alarm["shelved_until_utc_s"] is None), key=place)


def is_so(alarm: Mapping[str, object]) -> bool:
    """Whether it is so now, as far as is known: not one that ended, or stands only because it keeps coming."""
    return alarm["ended_utc_s"] is None and alarm["held_until_utc_s"] is None


def watched_records(rules: Sequence[Rule], state: State) -> list[dict[str, object]]:
    """What is watched, and which of it is shelved; ready ones that nobody has turned on stand behind."""
    on = [_watched(rule, state.watching.get(rule.name, Watching())) for rule in rules]
    named = {rule.name for rule in rules}
    off = [
        {**_NOT_WATCHED, "name": name, "says": ready.says, "rank": ready.usual.rank, "act": ready.usual.act}
        for name, ready in READY.items()
        if name not in named
    ]
    return on + off


_NOT_WATCHED = {"watched": False, "ready": True, "cause": "", "why": "", "when": "", "shelf": None}


def when_words(rule: Rule) -> str:
    """What was set, in words: "Current, RMS above 6.5 A for 2 s, over when back inside by 0.5 A, while running"."""
    its = rule.its
    said: list[str] = []
    if its.reading:
        bounds = [f"{side} {limit_words(its.reading, value)}" for side, value in _sides(its) if value is not None]
        said.append(f"{label(its.reading)} {' or '.join(bounds)}")
    elif its.drift:
        said.append(f"{label(its.drift)} drifted by {its.least_percent:g}\u00a0% or more")
    elif its.no_samples_s is not None:
        said.append(f"no samples for {its.no_samples_s:g}\u00a0s")
    elif its.trip_class:
        said.append(f"trip class {its.trip_class}, set to the plate's current")
    elif rule.name in READY:  # its name in the list says what
        said.append("must last" * bool(its.hold_s))
    elif its.event or its.verdict:
        said.append(EVENT_KINDS.get(its.event, "") or VERDICT_KEYS.get(its.verdict, ""))
    else:
        said.append(f"the motor is {its.state}")
    hold = f"for {its.hold_s:g}\u00a0s" if its.hold_s else ""
    if hold and rule.cause is Cause.STATE and rule.hold_s < DOUBTFUL_HOLD_S:
        hold += f", {DOUBTFUL_HOLD_S:g}\u00a0s where it is doubtful"
    said = [" ".join(filter(None, [*said, hold]))]
    if its.reading and its.return_gap:
        said.append(f"over when back inside by {limit_words(its.reading, its.return_gap)}")
    if its.state and (its.reading or its.no_samples_s is not None):
        said.append(f"while {its.state}")
    return ", ".join(filter(None, said))


def _sides(its: AlarmSettings) -> tuple[tuple[str, float | None], ...]:
    return ("above", its.high), ("below", its.low)


def _watched(rule: Rule, its: Watching) -> dict[str, object]:
    ready = READY.get(rule.name)
    return {
        "name": rule.name,
        "says": rule.name if ready is None else ready.says,
        "watched": True,
        "ready": ready is not None,
        "rank": rule.rank.value,
        "act": rule.its.act,
        "cause": rule.cause.value,
        "why": rule.why,
        "when": when_words(rule),
        "shelf": None if its.shelf is None else asdict(its.shelf),
    }
