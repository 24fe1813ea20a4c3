"""A channel's reading against a reference that a person reads off. Pure."""

from dataclasses import dataclass
from math import inf, isfinite, sqrt

from server.calibration.entry import What
from server.calibration.found import Found, Side, UnfitError, called, known, of_part, u95
from server.calibration.stretch import PIECES, PieceStatistics, Stretch
from server.calibration.zero import settled
from server.quantities.uncertainty import NORMAL_95, Standard
from server.samples import Channel

RANGE_SHARE_MIN = 0.10  # of the range, as a peak: below, zero and noise weigh too much (common practice)
_FINEST = 1e-5  # of the reference: a hundredth of what good bench meters state (common practice, no published source)
_SCATTER_MAX = 0.005  # relative: reference and reading are not read at the same instant
_PURE = 0.02  # what alternates beside a mean, or the other way round: else a meter's setting decides what it reads
_RATIO_MAX = 1.5  # reference to reading: more is a wrong unit, range or number of turns
_DISTORTION_MAX = 0.10  # of a wave: beyond, meters that are no true RMS meters read something else


@dataclass(frozen=True, slots=True)
class Reference:
    """What the person read off: `is_limit`: `uncertainty` is a limit that it does not pass (a data sheet's accuracy);
    else the half width of a 95 % interval (a certificate's, coverage factor 2)."""

    value: float
    uncertainty: float
    is_limit: bool
    words: str

    @property
    def standard(self) -> float:
        """JCGM 100, 4.3.7 for a limit, 4.3.4 for an interval."""
        return self.uncertainty / (sqrt(3.0) if self.is_limit else NORMAL_95)


def find_gain(channel: Channel, stretch: Stretch, reference: Reference) -> Found:
    """What the readings are to be multiplied by, so that they agree with the reference. Raises UnfitError.

    Direct: the mean; alternating: RMS over whole cycles. Uncertainty: that of the reference, scatter of the readings
    (JCGM 100, 4.2.3), and of a direct one the zero's.
    """
    _sane(reference)
    row = settled(channel, stretch)
    seen = stretch.seen(row)
    direct = is_direct(channel, seen)
    values = seen.mean if direct else seen.rms
    reading, unit, name = float(values.mean()), channel.unit, called(channel)
    span = max(abs(channel.low), abs(channel.high))
    share = abs(reading) * (1.0 if direct else sqrt(2.0)) / span
    if share < RANGE_SHARE_MIN:
        least = RANGE_SHARE_MIN * span / (1.0 if direct else sqrt(2.0))
        raise UnfitError(
            f"{name} reads {reading:.3g} {unit}, {100 * share:.1f} % of its range; zero and noise weigh too much "
            f"there, so take at least {least:.2g} {unit}"
        )
    scatter = float(values.std(ddof=1)) / abs(reading)
    if scatter > _SCATTER_MAX:
        raise UnfitError(
            f"{name} was not steady: it varied by {100 * scatter:.1f} %; wait until it is, then read again"
        )
    if not direct and seen.distortion > _DISTORTION_MAX:
        raise UnfitError(
            f"{name} is no sine: its harmonics are {100 * seen.distortion:.0f} % of it, and meters differ there; "
            "take a plain load, such as a heater"
        )
    ratio = reference.value / reading
    if not 1.0 / _RATIO_MAX < ratio < _RATIO_MAX:
        turned = "; is the sensor turned round?" if ratio < 0.0 else "; check unit, range and turns of the wire"
        raise UnfitError(f"{name} reads {reading:.4g} {unit} and the reference {reference.value:.4g} {unit}{turned}")
    parts: list[Standard] = [(f"reference, {reference.words}", reference.standard / abs(reading), inf)]
    parts.append(("scatter over three seconds", abs(ratio) * scatter / sqrt(PIECES), PIECES - 1.0))
    of_zero = of_part(channel.offset_error, 1.0, "zero") if direct else []
    if of_zero is None:
        raise UnfitError(f"the board states no limit for the zero of {name}; calibrate the zero first")
    parts += [(words, abs(ratio) * standard / abs(reading), dof) for words, standard, dof in of_zero]
    before = Side(reading, known(of_part(channel.gain, abs(reading), "gain"), of_zero))
    after = Side(ratio * reading, u95([(words, standard * abs(reading), dof) for words, standard, dof in parts]))
    wanted = Side(reference.value, u95([("", reference.standard, inf)]))
    return Found(What.GAIN, ratio, parts, before, after, wanted)


def is_direct(channel: Channel, seen: PieceStatistics) -> bool:
    """Whether the mean is what a meter reads here, or the RMS. Raises UnfitError where it depends on the meter."""
    mean, ripple = abs(float(seen.mean.mean())), float(seen.spread.mean())
    if ripple <= _PURE * mean:
        return True
    if mean <= _PURE * ripple or channel.ac_coupled:
        return False
    span = max(abs(channel.low), abs(channel.high))
    if max(mean, ripple) < 0.5 * RANGE_SHARE_MIN * span:  # too little of either, and that is what is said then
        return mean > ripple
    raise UnfitError(
        f"{called(channel)} is {mean:.3g} {channel.unit} direct and {ripple:.3g} {channel.unit} alternating; meters "
        "differ in what they read of that, so take one or the other"
    )


def _sane(reference: Reference) -> None:
    if not (isfinite(reference.value) and isfinite(reference.uncertainty)) or reference.value == 0.0:
        raise UnfitError("the reference is a number other than 0: what the meter reads")
    if reference.uncertainty <= 0.0:
        raise UnfitError("the reference's uncertainty is a number above 0: no meter is exact, its data sheet tells")
    if reference.uncertainty < _FINEST * abs(reference.value):
        raise UnfitError(
            f"± {reference.uncertainty:g} of {reference.value:g} is finer than any bench meter: its data sheet tells"
        )
    if reference.uncertainty >= 0.2 * abs(reference.value):
        raise UnfitError(
            f"± {reference.uncertainty:g} of {reference.value:g} is more than a fifth: no reference for a gain"
        )
