"""Two points set on a picture: values there, time between them, its frequency and angle, each with its ±. Pure."""

from dataclasses import dataclass
from enum import StrEnum
from math import floor, hypot, inf, log, sqrt

from server.live.stretch import BETWEEN
from server.live.wave import Wave, rectangular
from server.quantities.beside import at_frequency, beside_words, delay_beside
from server.quantities.power_words import SKEW
from server.quantities.reasons import given
from server.quantities.spread import Spread
from server.quantities.uncertainty import CLOCK, Standard, combined, parts_of
from server.readings import Confidence, Reading, absent
from server.signals import at, bent, curved, slope

_BENT = 1 / 8  # of the second difference: what a straight line may be off by between two samples
_LOOK_ALIKE = 2.0  # so many times the noise below a peak other samples may be the peak as well
_OUTERMOST = (
    0.15  # more than the noise of one is on the highest, by the logarithm of their number (normal distribution)
)
_TOO_CLOSE = "the points stand at the same moment"


class Snap(StrEnum):
    """What a point came to stand at; a free one stands where it was put."""

    ZERO = "zero"
    PEAK = "peak"
    SAMPLE = "sample"
    FREE = "free"


@dataclass(frozen=True, slots=True)
class Point:
    """A moment in board time, on a line."""

    board_s: float
    wave: Wave
    snap: Snap = Snap.FREE

    @property
    def trouble(self) -> str:
        return self.wave.trouble(self.board_s, self.board_s)

    @property
    def value(self) -> float:
        return at(self.wave.values, self.wave.place(self.board_s))

    @property
    def slope(self) -> float:
        """In units a second."""
        place = self.wave.place(self.board_s)
        return slope(self.wave.values, place, self.wave.channel.noise_rms or 0.0) * self.wave.rate_hz

    @property
    def on_sample(self) -> bool:
        place = self.wave.place(self.board_s)
        return abs(place - round(place)) < 1e-6

    @property
    def noisy(self) -> float:
        """How much of the noise of a sample is on its value, which is a mean of the two beside it."""
        share = self.wave.place(self.board_s) % 1.0
        return 1.0 if self.on_sample else hypot(1.0 - share, share)

    @property
    def bent(self) -> float:
        return bent(self.wave.values, floor(self.wave.place(self.board_s)))


def value_readings(one: Point, other: Point) -> list[Reading]:
    """The two values, and their difference where both are of one unit."""
    readings = [_value("value_one", one), _value("value_other", other)]
    if one.wave.channel.unit == other.wave.channel.unit:
        readings.append(_difference(one, other))
    return readings


def _value(key: str, point: Point) -> Reading:
    if point.trouble:
        return absent(key, point.trouble)
    doubt = point.wave.doubt(point.board_s, point.board_s)
    parts = _parts(point)
    return given(key, point.value, "", doubt, uncertainty=None if parts is None else combined(point.value, parts))


def _parts(point: Point) -> list[Standard] | None:
    """Of a value."""
    spread = point.wave.spread(abs(point.value), 1.0)
    if spread.why_not:
        return None
    return [
        *_own(point, spread),
        (spread.words.gain, spread.gain * abs(point.value), spread.gain_dof),
        (spread.words.offset, spread.offset, spread.offset_dof),
        (spread.words.delay, spread.delay * abs(point.slope), inf),
    ]


def _own(point: Point, spread: Spread) -> list[Standard]:
    """Of a value, what another one on the same channel does not share."""
    between = 0.0 if point.on_sample else rectangular(_BENT * point.bent)
    noise = spread.noise * point.noisy
    if point.snap is Snap.PEAK:
        noise *= 1.0 + _OUTERMOST * log(1.0 + 2.0 * _flat(point, spread.noise))
    return [(spread.words.noise, noise, inf), (spread.words.step, spread.step, inf), (BETWEEN, between, inf)]


def _difference(one: Point, other: Point) -> Reading:
    if why_not := one.trouble or other.trouble:
        return absent("difference", why_not)
    value = other.value - one.value
    doubt = one.wave.doubt(one.board_s, one.board_s) or other.wave.doubt(other.board_s, other.board_s)
    if one.wave.channel == other.wave.channel:
        both = _parts_of_one_channel(one, other, value)
    else:
        first, second = _parts(one), _parts(other)
        both = None if first is None or second is None else [*first, *second]
    return given("difference", value, "", doubt, uncertainty=None if both is None else combined(value, both))


def _parts_of_one_channel(one: Point, other: Point, value: float) -> list[Standard] | None:
    """Of a difference: gain and delay are the same at both points and count once, the offset drops out."""
    spread = one.wave.spread(abs(value), 1.0)
    if spread.why_not:
        return None
    return [
        *_own(one, spread),
        *_own(other, spread),
        (spread.words.gain, spread.gain * abs(value), spread.gain_dof),
        (spread.words.delay, spread.delay * abs(other.slope - one.slope), inf),
    ]


def time_readings(one: Point, other: Point, frequency: Reading | None) -> list[Reading]:
    """Time from the first to the second point, the frequency of which it would be one cycle, and the angle of the
    fundamental that passes in it. `frequency`: the reading when the picture was kept, or None."""
    seconds = other.board_s - one.board_s
    if seconds == 0.0:
        return [absent(key, _TOO_CLOSE) for key in ("time_s", "one_cycle_hz", "angle_deg")]
    known = None if frequency is None or not isinstance(frequency.value, float) else frequency.value
    parts = _time_parts(one, other, known)
    clock = one.wave.channel.clock
    whole = None if parts is None or clock is None else [*parts, (CLOCK, abs(seconds) * clock.standard, clock.dof)]
    hertz = 1.0 / abs(seconds)
    of_hertz = None if whole is None else [(word, each * hertz * hertz, dof) for word, each, dof in whole]
    return [
        given("time_s", seconds, uncertainty=None if whole is None else combined(seconds, whole)),
        given("one_cycle_hz", hertz, uncertainty=None if of_hertz is None else combined(hertz, of_hertz, 0.0)),
        _angle(seconds, parts, frequency),
    ]


def _angle(seconds: float, parts: list[Standard] | None, frequency: Reading | None) -> Reading:
    """Time and frequency are of one clock: what it is off by drops out."""
    if frequency is None or not isinstance(frequency.value, float) or frequency.confidence is Confidence.ABSENT:
        return absent("angle_deg", "no frequency was read when this was kept")
    turns = 360.0 * frequency.value
    if parts is None or frequency.uncertainty is None:
        return given("angle_deg", turns * seconds, "", frequency.reason)
    own = parts_of(frequency.uncertainty, CLOCK)
    budget = [(word, turns * each, dof) for word, each, dof in parts]
    budget += [(f"frequency: {word}", 360.0 * abs(seconds) * each, dof) for word, each, dof in own]
    return given("angle_deg", turns * seconds, "", frequency.reason, uncertainty=combined(turns * seconds, budget))


def _time_parts(one: Point, other: Point, hertz: float | None) -> list[Standard] | None:
    """Of the time between; without what the clock is off by."""
    places = [_place(point) for point in (one, other)]
    channels = [at_frequency(point.wave.channel, hertz) for point in (one, other)]
    late = delay_beside(*channels)
    if late is None or any(place is None for place in places):
        return None
    parts: list[Standard] = [part for place in places if place is not None for part in place]
    if channels[0] == channels[1]:
        return [*parts, *_moved(one.wave, _by_offset(other) - _by_offset(one))]
    parts += [part for point in (one, other) for part in _moved(point.wave, _by_offset(point))]
    return [*parts, (beside_words(SKEW, late), late.standard, late.dof)]


def _by_offset(point: Point) -> float:
    """By how much an offset moves the point, in seconds a unit: against the slope of a zero, and a peak not at all."""
    return -1.0 / point.slope if point.snap is Snap.ZERO else 0.0


def _moved(wave: Wave, by_offset: float) -> list[Standard]:
    """What the offset of a channel adds to a time that it moves by so much."""
    spread = wave.spread(1.0, 1.0, delayed=False)
    return [(spread.words.offset, spread.offset * abs(by_offset), spread.offset_dof)] if by_offset else []


def _place(point: Point) -> list[Standard] | None:
    """How well noise lets it be known where the wave has the zero or the peak that the point stands at."""
    spread = point.wave.spread(1.0, 1.0, delayed=False)
    if spread.why_not or point.trouble:
        return None
    if point.snap is Snap.ZERO:
        steep = abs(point.slope)
        return [(f"zero of {point.wave.channel.name}", spread.noise * point.noisy / steep, inf)] if steep else None
    if point.snap is Snap.PEAK:
        wide = max(0.5, _flat(point, spread.noise))
        return [(f"peak of {point.wave.channel.name}", rectangular(wide / point.wave.rate_hz), inf)]
    return []


def _flat(point: Point, noise: float) -> float:
    """How many samples on each side of a peak may be the peak as well."""
    bend = curved(point.wave.values, round(point.wave.place(point.board_s)), noise)
    return sqrt(2.0 * _LOOK_ALIKE * noise / bend) if bend else 0.0
