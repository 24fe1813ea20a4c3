"""What alarm settings cannot mean, refused at its line. Raises ConfigError; nothing else."""

from collections.abc import Iterable
from difflib import get_close_matches

from server.alarms.known import EVENT_KINDS, VERDICT_KEYS
from server.alarms.ready import OVERLOADED, READY
from server.alarms.rule import Cause, cause_of, merged
from server.config import AlarmSettings, RigText
from server.quantities import NO_LIMITS, QUANTITIES

RULES_MAX = 50  # of one rig: more than anybody can act on
_CAUSES = ("reading", "event", "verdict", "no_samples_s", "drift")
_KEYS = [quantity.key for quantity in QUANTITIES]
_WRITE = 'one of reading, event, verdict, no_samples_s, drift or state, as in reading = "current_rms_a"'
_LIMIT_KEYS = ("low", "high", "return_gap")


def check_alarms(text: RigText) -> None:
    """Raises ConfigError where an alarm or whom to call cannot be meant so."""
    if len(text.settings.alarms) > RULES_MAX:
        what = f"{len(text.settings.alarms)} alarms are more than {RULES_MAX}"
        raise text.error("alarms", what, "keep those that somebody acts on")
    for its in text.settings.alarms:
        _check(text, its)
    calling = text.settings.calling
    if bool(calling.quiet_from) != bool(calling.quiet_to):
        said, missing = ("quiet_from", "quiet_to") if calling.quiet_from else ("quiet_to", "quiet_from")
        raise text.error(f"calling.{said}", f"{said} is set and {missing} is not", f"write {missing} too, or neither")
    if calling.quiet_from and calling.quiet_from == calling.quiet_to:
        raise text.error("calling.quiet_to", "the quiet hours end when they begin", "write two different times")


def _check(text: RigText, its: AlarmSettings) -> None:
    path = f"alarms.{its.name}"
    said = [key for key in _CAUSES if getattr(its, key) not in (None, "")]
    ready = READY.get(its.name)
    if len(said) > 1:
        raise text.error(f"{path}.{said[1]}", f"{path} has {said[0]} and {said[1]}", "make an alarm of each")
    if ready is None and not said and not its.state:
        near = get_close_matches(its.name, READY, n=1, cutoff=0.6)
        instead = f"write [alarms.{near[0]}], which is a ready one, or {_WRITE}" if near else f"write {_WRITE}"
        raise text.error(path, f"nothing is said that raises the alarm {its.name}", instead)
    if ready is not None and (said and said[0] not in _own_cause(its.name)):
        raise text.error(
            f"{path}.{said[0]}", f"{its.name} is a ready alarm and has its own cause", "give yours another name"
        )
    if ready is None and its.rank != "off" and not its.act.strip():
        what = f"{path} does not say what to do first"
        raise text.error(path, what, 'write act = "Switch off", or what helps; an alarm without an act helps nobody')
    if its.trip_class and its.name != OVERLOADED:
        what = f"{path} has a trip_class, which only the ready alarm {OVERLOADED} asks for"
        raise text.error(f"{path}.trip_class", what, f"move it below [alarms.{OVERLOADED}]")
    _check_limits(text, merged(its), path)
    for key, value, known in (("event", its.event, EVENT_KINDS), ("verdict", its.verdict, VERDICT_KEYS)):
        if value and value not in known:
            raise text.error(f"{path}.{key}", f'there is no {key} "{value[:40]}"', _nearest(value, known, key))
    for key, value in (("reading", its.reading), ("drift", its.drift)):
        if value:
            _check_reading(text, f"{path}.{key}", value)


def _own_cause(name: str) -> tuple[str, ...]:
    """What may be said again of a ready one, with another value: how long nothing came, which reading of several
    places."""
    usual = READY[name].usual
    return tuple(key for key in ("reading", "no_samples_s", "drift") if getattr(usual, key))


def _check_limits(text: RigText, its: AlarmSettings, path: str) -> None:
    limited = cause_of(its) is Cause.LIMIT
    for key in _LIMIT_KEYS:
        if not limited and getattr(its, key) is not None:
            raise text.error(f"{path}.{key}", f"{key} is set without a reading", "write whose limit it is as reading")
    if not limited:
        return
    if its.low is None and its.high is None:
        raise text.error(path, f"{path} has no limit", "write low, high or both below it")
    if its.low is None or its.high is None:
        return
    if its.low >= its.high:
        what = f"low = {its.low:g} is not below high = {its.high:g}"
        raise text.error(f"{path}.low", what, "write the smaller one as low")
    band = its.high - its.low
    if its.return_gap is not None and its.return_gap >= band:
        what = f"return_gap = {its.return_gap:g} is as wide as the band from low to high, {band:g}: it would never end"
        raise text.error(f"{path}.return_gap", what, f"write less than {band / 2:g}")


def _check_reading(text: RigText, path: str, reading: str) -> None:
    key = reading.partition(".")[0]
    if key not in _KEYS:
        raise text.error(path, f'there is no reading "{key[:40]}"', _nearest(key, _KEYS, "reading"))
    if key in NO_LIMITS:
        raise text.error(path, f"{key} is {NO_LIMITS[key]}", "name a reading that is a number, such as current_rms_a")


def _nearest(said: str, known: Iterable[str], what: str) -> str:
    near = get_close_matches(said, list(known), n=1, cutoff=0.5)
    if near:
        return f"write {near[0]}"
    if what == "reading":
        return "write the key of a quantity, such as current_rms_a"
    return f"known are {', '.join(known)}"
