"""Stories from a document: every name and value checked, slow changes, repeats and hands spread out into steps.

    stories:
    - name: start and load
      says: starts, its filter clogs, and is switched off
      lasts_s: 38
      steps:
      - {at_s: 1.5, supply_on: on}
      - {at_s: 9, load_factor: 1.4, faults: [overload]}
      - {from_s: 12, to_s: 15, load_factor: [1.4, 1]}                 # even steps
      - {from_s: 16, to_s: 20, hand: back and forth, rpm: [60, 150]}  # strokes, drawn from the story's seed
      - {from_s: 20, every_s: 5, times: 3, steps: [{at_s: 0, supply_on: on}, {at_s: 2, supply_on: off}]}

Steps stand in the order of their times. STORIES.md is for who writes them.
"""

from collections.abc import Iterator, Mapping, Sequence
from itertools import islice
from random import Random

from simulator.faults import FAULTS
from simulator.physics.control import Control
from simulator.stories.document import Entry, required
from simulator.stories.hand import HAND_WAYS, strokes
from simulator.stories.motor_faults import MOTOR_FAULTS
from simulator.stories.story import Step, Story

LONGEST_S = 30 * 86_400.0
RAMP_STEP_S = 0.02  # a hand on a knob, or a slow set point: fine enough to look smooth in every picture
RAMP_STEPS_MAX = 5_000
STEPS_MAX = 200_000
_STORY_KEYS = ("name", "says", "lasts_s", "alone", "seed", "damage", "steps")
_FORMS = {  # what may stand in a step beside faults and controls, by the key that tells its form
    "steps": ("from_s", "every_s", "times", "steps"),
    "hand": ("from_s", "to_s", "hand", "rpm"),
    "from_s": ("from_s", "to_s"),
    "at_s": ("at_s",),
}
_KEYS = tuple(dict.fromkeys(key for keys in _FORMS.values() for key in keys))


def read_stories(entry: Entry, controls: Sequence[Control], at_rest: Mapping[str, float]) -> tuple[Story, ...]:
    """All stories of a list; `at_rest` has a value for every control. StoryError names file, line, what to write."""
    if not entry.items():
        raise entry.fail("the list is empty; write a story under it")
    stories = tuple(_story(each, {control.name: control for control in controls}, at_rest) for each in entry.items())
    for k, story in enumerate(stories):
        if story.name in [other.name for other in stories[:k]]:
            raise entry.items()[k].fail(f"there are two stories {story.name!r}; call one otherwise")
    return stories


def value_of(entry: Entry, control: Control) -> float:
    """What stands there for a control, as one of its words or a number. StoryError."""
    try:
        return control.of(entry.text())
    except ValueError as error:
        raise entry.fail(f"{error}") from None


def _story(entry: Entry, known: Mapping[str, Control], at_rest: Mapping[str, float]) -> Story:
    table = entry.table(_STORY_KEYS)
    name = required(table, "name", entry).text()
    lasts_s = required(table, "lasts_s", entry).number(0.1, LONGEST_S)
    draw = Random(f"{table['seed'].whole(0, 2**31) if 'seed' in table else 0} {name}")
    steps = list(islice(_steps(required(table, "steps", entry), known, draw), STEPS_MAX + 1))
    if len(steps) > STEPS_MAX:
        raise entry.fail(f"{name!r} has more than {STEPS_MAX} steps; write fewer rounds")
    for step in steps:
        if step.time_s >= lasts_s:
            raise entry.fail(f"{name!r} has a step at {step.time_s:g} s (line {step.line}) but lasts {lasts_s:g} s")
    steps = [Step(0.0, dict(at_rest), (), entry.line), *sorted(steps, key=lambda step: step.time_s)]
    says = required(table, "says", entry).text()
    alone = "alone" in table and table["alone"].number(0, 1) > 0
    return Story(name, says, tuple(steps), lasts_s, entry.file, _damage(table.get("damage")), alone)


def _damage(entry: Entry | None) -> dict[str, float] | None:
    if entry is None:
        return None
    rates = {kind: rate.number(0.0, 1.0) for kind, rate in entry.table(FAULTS).items()}
    if sum(rates.values()) > 1.0:
        raise entry.fail("the chances of all kinds together are more than 1")
    return rates


def _steps(entry: Entry, known: Mapping[str, Control], draw: Random) -> Iterator[Step]:
    before_s = 0.0
    for each in entry.items():
        table = each.table([*_KEYS, "faults", *known])
        form = next((key for key in _FORMS if key in table), "")
        if not form:
            raise each.fail("at_s is missing; write `at_s: seconds`, or from_s and to_s")
        for key, value in table.items():
            if key in _KEYS and key not in _FORMS[form]:
                raise value.fail(f"{key} does not belong beside {form}; this step takes {', '.join(_FORMS[form])}")
        begin = required(table, "at_s" if form == "at_s" else "from_s", each)
        begin_s = begin.number(0.0, LONGEST_S)
        if begin_s < before_s:
            raise begin.fail(f"{begin_s:g} s is before the step above, at {before_s:g} s; put the steps in order")
        before_s = begin_s
        yield from _spread(form, each, table, known, begin_s, draw)


def _spread(
    form: str, entry: Entry, table: dict[str, Entry], known: Mapping[str, Control], begin_s: float, draw: Random
) -> Iterator[Step]:
    """The steps that one entry stands for."""
    faults = _faults(table["faults"]) if "faults" in table else None
    changes = {name: value for name, value in table.items() if name in known}
    values: dict[str, float] = {}
    if form != "from_s":
        values = {name: value_of(value, known[name]) for name, value in changes.items()}
    if values or faults is not None:
        yield Step(begin_s, values, faults, entry.line)
    if form == "from_s":
        yield from _ramp(entry, table, known, changes, begin_s)
    elif form == "steps":
        yield from _repeated(entry, table, known, begin_s, draw)
    elif form == "hand":
        yield from _by_hand(entry, table, begin_s, draw)


def _faults(entry: Entry) -> tuple[str, ...]:
    return tuple(each.one_of(MOTOR_FAULTS) for each in entry.items())


def _end_s(entry: Entry, table: dict[str, Entry], begin_s: float) -> float:
    end = required(table, "to_s", entry)
    end_s = end.number(0.0, LONGEST_S)
    if end_s <= begin_s:
        raise end.fail(f"{end_s:g} s is not after {begin_s:g} s; write a later time")
    return end_s


def _ramp(
    entry: Entry,
    table: dict[str, Entry],
    known: Mapping[str, Control],
    changes: Mapping[str, Entry],
    begin_s: float,
) -> Iterator[Step]:
    end_s = _end_s(entry, table, begin_s)
    ends: dict[str, tuple[float, float]] = {}
    for name, value in changes.items():
        pair = value.items()
        if len(pair) != 2:
            raise value.fail(f"write two values, from and to: {name}: [0, 1]")
        first, last = (value_of(each, known[name]) for each in pair)
        ends[name] = first, last
    count = min(max(1, round((end_s - begin_s) / RAMP_STEP_S)), RAMP_STEPS_MAX)
    for k in range(1, count + 1):
        at_s = round(begin_s + (end_s - begin_s) * k / count, 6)
        values = {name: round(first + (last - first) * k / count, 9) for name, (first, last) in ends.items()}
        yield Step(at_s, values, None, entry.line)


def _repeated(
    entry: Entry, table: dict[str, Entry], known: Mapping[str, Control], begin_s: float, draw: Random
) -> Iterator[Step]:
    every_s = required(table, "every_s", entry).number(0.001, LONGEST_S)
    times = required(table, "times", entry).whole(1, 100_000)
    for k in range(times):
        for step in _steps(table["steps"], known, draw):
            if step.time_s >= every_s:
                raise table["steps"].fail(f"a step at {step.time_s:g} s is after the next round, {every_s:g} s")
            yield Step(round(begin_s + k * every_s + step.time_s, 6), step.controls, step.faults, step.line)


def _by_hand(entry: Entry, table: dict[str, Entry], begin_s: float, draw: Random) -> Iterator[Step]:
    end_s = _end_s(entry, table, begin_s)
    way = table["hand"].one_of(HAND_WAYS)
    rpm = [each.number(1.0, 1000.0) for each in required(table, "rpm", entry).items()]
    if len(rpm) != 2 or rpm[1] < rpm[0]:
        raise table["rpm"].fail("write the slowest and the fastest peak: rpm: [60, 150]")
    yield Step(begin_s, {"turned_by_hand": 1.0, "hand_rpm": 0.0}, None, entry.line)
    for at_s, speed_rpm in strokes(way, begin_s, end_s, rpm[0], rpm[1], draw):
        yield Step(at_s, {"hand_rpm": speed_rpm}, None, entry.line)
    yield Step(end_s, {"turned_by_hand": 0.0, "hand_rpm": 0.0}, None, entry.line)
