"""Is it so? One rule held against what was seen. Pure; keeps nothing.

A number that is doubtful or absent decides nothing, neither that an alarm begins nor that it ends; but one that is
known to be at least so much, as of a sensor that clips, is above a limit that lies lower. A run state that is doubtful
is told with its doubt: most motors' plates do not say what they draw when they stall.
"""

from dataclasses import dataclass
from math import isfinite

from server.alarms.heat import Heat, drawn_a, line_currents
from server.alarms.ready import OUTCOMES, READY
from server.alarms.rule import Cause, Rule
from server.alarms.seen import Seen
from server.quantities import QUANTITIES
from server.readings import Confidence, Doubt, Reading

ON = ("running", "starting", "stalled")  # current flows: of a motor that is not seen any more
ROOM_LEAST_S = 3600.0  # for samples: as the page cautions
_TRIPS, _COOL = 100.0, 90.0  # % of the load at which a relay trips: begins, and ends below
_WORDS = {quantity.key: quantity for quantity in QUANTITIES}


@dataclass(frozen=True, slots=True)
class Judgement:
    """`so`: None where it can't be told, then `why` says why. `why` is a sentence, `was` the same of what is over ("":
    `why` is true then too); `value`, `limit` with their units."""

    so: bool | None
    why: str = ""
    value: str = ""
    limit: str = ""
    times: int = 1  # how often it happened, of events
    doubtful: bool = False  # so by a run state that is not sure: it must hold for longer
    was: str = ""


_ELSEWHERE = Judgement(None)  # what tells of it is seen at another moment, as windows of another group of channels


def judged(rule: Rule, seen: Seen, active: bool, last_state: str, silent_s: float | None, heat: Heat) -> Judgement:
    """`active`: it is so already, and must come back by the return gap. `last_state`: that was known last.

    `silent_s`: how long nothing has come, of time in which this service was awake; None where nothing ever came.
    `heat`: what the motor has taken up, this window with it.
    """
    match rule.cause:
        case Cause.LIMIT:
            return _limit(rule, seen, active, last_state)
        case Cause.STATE:
            return _state(rule, seen)
        case Cause.EVENT:
            return _event(rule, seen)
        case Cause.VERDICT:
            told = next((each for each in seen.verdicts if each.key == rule.its.verdict), None)
            return Judgement(told is not None, "" if told is None else told.answer)
        case Cause.SILENCE:
            return _silence(rule, last_state, silent_s)
        case Cause.RECORDING:
            why, was = (f"Samples {tense} not recorded: {seen.recording}." for tense in ("are", "were"))
            return Judgement(bool(seen.recording), why, was=was)
        case Cause.ROOM:
            return _room(seen.room_s, active)
        case Cause.DRIFT:
            return Judgement(None)  # by its series
        case Cause.PLAN:
            return _tested(rule, seen)
        case Cause.OVERLOAD:
            return _overload(rule, seen, active, heat)
    raise AssertionError(rule.cause)


def _room(room_s: float | None, active: bool) -> Judgement:
    """An hour is enough to do something about it. What is recorded varies: it is over once there is twice as much."""
    if room_s is None:
        return Judgement(None, "how long there is room is not known")
    text = f"The disk {{}} room for {room_s / 60.0:.0f} min of samples."
    return Judgement(room_s < ROOM_LEAST_S * (2.0 if active else 1.0), text.format("has"), was=text.format("had"))


def _limit(rule: Rule, seen: Seen, active: bool, last_state: str) -> Judgement:
    its, state = rule.its, seen.readings.get("run_state")
    reading = seen.readings.get(its.reading)
    if reading is None:
        return _ELSEWHERE
    if its.state:
        in_state = its.state == last_state if state is None else _in_state(its.state, state)
        if in_state is not True:
            return Judgement(in_state, "the run state is not known")
    value, doubt = reading.value, reading.doubt
    if reading.confidence is not Confidence.GOOD:
        if doubt == Doubt.AT_LEAST and isinstance(value, float) and its.high is not None and value > its.high:
            return _beyond(rule, f"at least {amount(its.reading, value)}", "above", its.high)
        return Judgement(None, f"{reading.confidence.value}: {reading.reason}")
    if isinstance(value, bool) or not isinstance(value, int | float) or not isfinite(value):
        return Judgement(None, "it is no number")
    gap = (its.return_gap or 0.0) if active else 0.0
    text = amount(its.reading, value)
    if its.high is not None and value > its.high - gap:
        return _beyond(rule, text, "above", its.high)
    if its.low is not None and value < its.low + gap:
        return _beyond(rule, text, "below", its.low)
    return Judgement(False, "", text)


def _beyond(rule: Rule, text: str, side: str, limit: float) -> Judgement:
    bound = limit_words(rule.its.reading, limit)
    why, was = (f"{label(rule.its.reading)} {tense} {side} {bound}." for tense in ("is", "was"))
    return Judgement(True, why, text, f"{side} {bound}", was=was)


def _in_state(wanted: str, reading: Reading) -> bool | None:
    """None where the run state is not known."""
    if reading.confidence is Confidence.ABSENT or reading.value == "unknown":
        return None
    return reading.value == wanted


def _state(rule: Rule, seen: Seen) -> Judgement:
    reading = seen.readings.get("run_state")
    if reading is None:
        return _ELSEWHERE
    so = _in_state(rule.its.state, reading)
    if so is None:
        return Judgement(None, "the run state is not known")
    doubtful = reading.confidence is not Confidence.GOOD
    why, was = (f"The motor {tense} {rule.its.state}{', doubtful' * doubtful}." for tense in ("is", "was"))
    return Judgement(so, why, doubtful=doubtful, was=was)


def _event(rule: Rule, seen: Seen) -> Judgement:
    found = [event for event in seen.events if event.kind == rule.its.event]
    if not found:
        return Judgement(False)
    last = found[-1]
    return Judgement(True, f"{last.text}{f': {last.detail}' if last.detail else ''}.", times=len(found))


def _silence(rule: Rule, last_state: str, silent_s: float | None) -> Judgement:
    limit_s = rule.its.no_samples_s or 0.0
    if silent_s is None:
        return Judgement(None, "nothing has come yet")
    wanted = rule.its.state
    meant = not wanted or last_state == wanted or (wanted == "running" and last_state in ON)
    why = f"No samples for more than {limit_s:g} s; the motor was {last_state or 'not known'} when they stopped."
    return Judgement(silent_s >= limit_s and meant, why, f"{silent_s:.0f} s", f"more than {limit_s:g} s")


def _tested(rule: Rule, seen: Seen) -> Judgement:
    if seen.tested is None or (seen.tested.waits and seen.tested.outcome != OUTCOMES["test_failed"]):
        return _ELSEWHERE
    so = seen.tested.outcome == OUTCOMES[rule.name]
    return Judgement(so, f"{READY[rule.name].says}: {seen.tested.why.rstrip('.')}.")


def _overload(rule: Rule, seen: Seen, active: bool, heat: Heat) -> Judgement:
    currents = line_currents(seen)
    if not currents:
        return _ELSEWHERE
    if seen.rated_a is None:
        return Judgement(None, "the current on the plate of the motor is not known")
    if drawn_a(seen) is None:
        first = currents[0]
        return Judgement(None, f"{first.confidence.value}: {first.reason}" if first.reason else "it is no number")
    text = f"thermal load {heat.percent:.0f}\u00a0%"
    if heat.percent < (_COOL if active else _TRIPS):
        return Judgement(False, "", text)
    relay = f"an overload relay of class {rule.its.trip_class}, set to the plate's {seen.rated_a:g}\u00a0A"
    return Judgement(True, f"Its current would have tripped {relay}.", text, f"above {_TRIPS:.0f}\u00a0%")


def amount(reading: str, value: float) -> str:
    """A value of a reading with its unit."""
    quantity = _WORDS.get(reading.partition(".")[0])
    if quantity is None:
        return f"{value:.4g}"
    text = f"{value:.{quantity.digits}f}".replace("-", "\u2212")
    return f"{text}\u00a0{quantity.unit}" if quantity.unit else text


def limit_words(reading: str, value: float) -> str:
    """A limit of a reading as it was set, with its unit."""
    quantity = _WORDS.get(reading.partition(".")[0])
    text = f"{value:.10g}".replace("-", "\u2212")
    return text if quantity is None or not quantity.unit else f"{text}\u00a0{quantity.unit}"


def label(reading: str) -> str:
    """What a reading is called, at the beginning of a sentence."""
    key, _, place = reading.partition(".")
    quantity = _WORDS.get(key)
    name = key.replace("_", " ") if quantity is None else quantity.label
    where = f", {place.replace('_', ' ')}" if place else ""
    return f"{name[:1].upper()}{name[1:]}{where}"
