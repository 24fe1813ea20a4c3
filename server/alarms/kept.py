"""What must outlive the service, as JSON text: alarms that stand, acknowledgements, shelves, what drifts are judged
by. Pure."""

import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from math import isfinite

from pydantic import TypeAdapter, ValidationError

from server.alarms.coasting import Coast
from server.alarms.heat import LOAD_MAX
from server.alarms.judging import ON
from server.alarms.life import State, Watching
from server.alarms.notice import Notice
from server.alarms.rule import Cause, Rule

FORMAT = 1
TOLD_MAX = 200  # of the newest notices, for the list
_SAID_MAX = 40  # characters of a number that is none, in the reason


@dataclass(frozen=True, slots=True)
class Kept:
    """All of one rig."""

    state: State
    told: tuple[Notice, ...] = ()
    format: int = FORMAT


_KEPT, _NOTICE = TypeAdapter(Kept), TypeAdapter(Notice)


class UnreadableError(ValueError):
    """The text is none of ours, in a sentence."""


def kept_text(kept: Kept) -> bytes:
    """Without what belongs to this start of the service alone: its clocks, holds that have begun. A silence lasts, and
    what keeps coming goes on to."""
    its = kept.state
    watching = {name: _without_clocks(each, its.awake_s) for name, each in its.watching.items()}
    heard_s = None if its.heard_s is None else its.heard_s - its.awake_s  # by the clock of the next start, from 0 on
    state = State(its.number, watching, run_state=its.run_state, heard_s=heard_s)
    return _KEPT.dump_json(replace(kept, state=state, told=kept.told[-TOLD_MAX:]))


def kept_from(text: bytes, rules: Iterable[Rule] = ()) -> Kept:
    """Raises UnreadableError. Of a motor that was on the silence begins at once: its board may not come back. One that
    an alarm stands for by these rules goes on: a start of the service is no end of it."""
    try:
        json.loads(text, parse_float=_finite, parse_int=_finite, parse_constant=_finite)
        kept = _KEPT.validate_json(text)
    except ValidationError as error:
        raise UnreadableError(f"it cannot be read ({error.error_count()} mistakes)") from None
    except (ValueError, RecursionError) as error:  # no JSON, or a number that no clock and no sum has
        raise UnreadableError(f"it cannot be read ({error})") from None
    if any(not 0.0 <= its.heat.load <= LOAD_MAX for its in kept.state.watching.values()):
        raise UnreadableError("it holds a heat that no motor has")
    if kept.format != FORMAT:
        raise UnreadableError(f"it has format {kept.format}, this Slipring reads {FORMAT}")
    silences = (rule.name for rule in rules if rule.cause is Cause.SILENCE)
    goes_on = any(name in kept.state.watching and kept.state.watching[name].active for name in silences)
    heard_s = 0.0 if kept.state.run_state in ON else None
    if goes_on:
        heard_s = kept.state.heard_s or 0.0
    return replace(kept, state=replace(kept.state, heard_s=heard_s))


def _finite(text: str) -> float:
    """Raises ValueError."""
    if isfinite(number := float(text)):
        return number
    raise ValueError(f"{text[:_SAID_MAX]} is no number to go on with")


def notice_from(said: Mapping[str, object]) -> Notice | None:
    """A notice as it was kept with a run; None: it is none."""
    try:
        return _NOTICE.validate_python(said)
    except ValidationError:
        return None


def _without_clocks(its: Watching, awake_s: float) -> Watching:
    """When it came counts on by the clock of the next start, for one that is so: what has ended may come anew."""
    came_s = tuple(each - awake_s for each in its.came_s) if its.active else ()
    again_s = None if its.again_s is None or not its.active else its.again_s - awake_s
    return replace(its, since_s=None, last_s=None, came_s=came_s, again_s=again_s, coast=Coast())
