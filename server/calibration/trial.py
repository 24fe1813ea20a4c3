"""A measurement that a person may keep: what was found, and the entry that it becomes. Pure."""

from cmath import phase, rect
from dataclasses import dataclass
from math import degrees, inf, isfinite, pi

from server.calibration.angle import LOADS, find_angle
from server.calibration.correction import Correction
from server.calibration.entry import Entry, Stated, What, second
from server.calibration.found import Found, UnfitError
from server.calibration.gain import Reference, find_gain
from server.calibration.stretch import PIECES, Stretch
from server.calibration.zero import find_zero
from server.samples import Channel

WORDS_MAX = 120


@dataclass(frozen=True, slots=True)
class Asked:
    """What a person asks for: a gain has a `reference`, an angle a voltage channel `against` and a kind of `load`."""

    what: What
    channel: Channel
    reference: Reference | None = None
    against: Channel | None = None
    load: str = ""
    words: str = ""


def find(asked: Asked, stretch: Stretch) -> Found:
    """Measure what is asked for. Raises UnfitError."""
    if asked.what is What.ZERO:
        return find_zero(asked.channel, stretch)
    if asked.what is What.GAIN:
        if asked.reference is None:
            raise UnfitError("a gain needs a reference: what the meter reads, and how uncertain that is")
        return find_gain(asked.channel, stretch, asked.reference)
    load = next((each for each in LOADS if each.key == asked.load), None)
    if asked.against is None or load is None:
        kinds = ", ".join(each.key for each in LOADS)
        raise UnfitError(f"an angle needs a voltage channel to compare with, and a kind of load: {kinds}")
    return find_angle(asked.against, asked.channel, stretch, load)


def entry_of(asked: Asked, found: Found, channel: Stated, against: str, now: Correction, utc_s: float) -> Entry:
    """The entry that makes the change to what is corrected `now`, counted from what the board states."""
    value, standard = now.zero + found.change / now.gain, found.standard / now.gain
    if found.what is What.GAIN:
        value, standard = now.gain * found.change, now.gain * found.standard
    elif found.what is What.ANGLE:
        value, standard = now.delay_s + found.change, found.standard
    dof = found.dof if isfinite(found.dof) else inf
    words = reference_words(asked)
    return Entry(found.what, channel, second(utc_s), words, value, standard, dof, found.frequency_hz, against)


def reference_words(asked: Asked) -> str:
    """Against what, as it is kept."""
    if asked.what is What.ANGLE:
        load = next(each for each in LOADS if each.key == asked.load).words
        return f"{load}, {asked.words}"[:WORDS_MAX] if asked.words else load
    return (asked.words or "nothing connected" if asked.what is What.ZERO else asked.words or "a meter")[:WORDS_MAX]


def look_record(asked: Asked, stretch: Stretch) -> dict[str, object]:
    """The live reading with its scatter: mean and RMS of the newest pieces, or the angle; how much has been seen."""
    row = stretch.row(asked.channel)
    if row is None or not stretch.count:
        return {"pieces": 0, "of": PIECES, "mean": None, "rms": None, "scatter": None, "lead_deg": None, "hertz": None}
    seen = stretch.seen(row)
    direct = abs(float(seen.mean.mean())) > float(seen.spread.mean())
    values = seen.mean if direct or asked.what is What.ZERO else seen.rms
    hertz = None if seen.hertz is None else float(seen.hertz.mean())
    return {
        "pieces": stretch.count,
        "of": PIECES,
        "mean": float(seen.mean.mean()),
        "rms": float(seen.rms.mean()),
        "scatter": float(values.std(ddof=1)) if stretch.count > 1 else None,
        "lead_deg": _lead_deg(asked, stretch, row),
        "hertz": hertz,
    }


def _lead_deg(asked: Asked, stretch: Stretch, row: int) -> float | None:
    """By how much the current leads now, for a person to see; None where there is no angle."""
    volts = None if asked.against is None else stretch.row(asked.against)
    if volts is None or asked.against is None:
        return None
    of_volts, of_amps = stretch.seen(volts), stretch.seen(row, volts)
    if of_volts.hertz is None or of_volts.phasors is None or of_amps.phasors is None:
        return None
    ratio = complex((of_amps.phasors[:, 0] / of_volts.phasors[:, 0]).mean())
    turned = 2.0 * pi * float(of_volts.hertz.mean()) * (asked.channel.delay_s - asked.against.delay_s)
    return degrees(phase(rect(abs(ratio), phase(ratio) + turned)))


def found_record(found: Found, unit: str) -> dict[str, object]:
    """What came of it, before and after, as the API tells it."""
    return {
        "what": found.what.value,
        "unit": "°" if found.what is What.ANGLE else unit,
        "change": found.change,
        "before": found.before.value,
        "before_u95": found.before.u95,
        "after": found.after.value,
        "after_u95": found.after.u95,
        "wanted": found.wanted.value,
        "wanted_u95": found.wanted.u95,
        "frequency_hz": found.frequency_hz,
        "parts": [{"source": words, "standard": standard} for words, standard, _ in found.parts],
    }
