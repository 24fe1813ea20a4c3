"""A channel's calibration as numbers: what is added, multiplied and delayed, and what is still uncertain. Pure.

How age widens: within the age limit of the file an entry is as uncertain as when it was made. Beyond it the board's
stated limit comes back, a share of it that grows evenly from nothing at the limit to the whole of it at twice the
limit, added as the root of the summed squares. Where the board states none, what the entry corrected stands for it:
a channel that was off by so much may be so again. Common practice for neither; no published source.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import hypot, inf, sqrt

from firmware_protocol import ChannelDescription
from server.calibration.entry import DAY_S, BoardCalibration, Entry, What, stated
from server.samples import Part

YEAR_S = 365.25 * DAY_S
_DELAY_S_MAX = 0.1


@dataclass(frozen=True, slots=True)
class Correction:
    """value = gain * (the board's value - zero), taken `delay_s` later than the board states.

    `gain_part` (relative), `zero_part` (in the unit, after the gain) and `delay_part`: what is uncertain of them; None:
    not calibrated, so that the board's stated limit holds. `skew_part`: of the delay beside that of the channel with
    the index `skew_from`, against which it was found at `turned_hz`; what that one's delay is off by, both are, and
    where nobody says what that is, `delay_part` is not known.
    """

    zero: float = 0.0
    gain: float = 1.0
    delay_s: float = 0.0
    gain_part: Part | None = None
    zero_part: Part | None = None
    delay_part: Part | None = None
    skew_part: Part | None = None
    skew_from: int | None = None
    turned_hz: float | None = None


def corrections_of(
    calibration: BoardCalibration, described: Sequence[ChannelDescription], at_utc_s: float
) -> tuple[dict[int, Correction], list[str]]:
    """Corrections by the channels' indices as they are at a moment, and a sentence for each entry that is not used."""
    found: dict[int, Correction] = {}
    unused = [_nowhere(entry, described) for entry in calibration.holding.entries if not _home(entry, described)]
    for said in described:
        its: dict[What, Entry] = {}
        for what in What:
            entry = calibration.holds(what, stated(said))
            if entry is None:
                continue
            if entry.channel != stated(said):
                unused.append(_otherwise(entry))
            elif not _possible(entry, said):
                unused.append(f"{_of(entry)} is not used: {entry.value:g} is more than a sensor can be off by")
            else:
                its[what] = entry
        if its:
            found[said.index] = _correction(its, said, described, calibration.age_limit_days, at_utc_s)
    return found, unused


def _possible(entry: Entry, said: ChannelDescription) -> bool:
    """Whether a channel can be off by so much; a file may have been written by hand."""
    if entry.what is What.ZERO:
        return abs(entry.value) <= abs(said.scale) * (said.code_high - said.code_low)
    return abs(entry.value) <= _DELAY_S_MAX if entry.what is What.ANGLE else 0.1 <= entry.value <= 10.0


def _correction(
    its: dict[What, Entry],
    said: ChannelDescription,
    described: Sequence[ChannelDescription],
    age_limit_days: float,
    at_utc_s: float,
) -> Correction:
    zero, gain, angle = its.get(What.ZERO), its.get(What.GAIN), its.get(What.ANGLE)
    k = gain.value if gain else 1.0
    offset_limit = None if said.offset_limit_codes is None else abs(said.scale) * said.offset_limit_codes
    delay_limit_s = None if said.delay_limit_ns is None else said.delay_limit_ns * 1e-9

    def part(entry: Entry | None, unit: float, limit: float | None, off_by: float) -> Part | None:
        return None if entry is None else _part(entry, unit, limit, off_by, age_limit_days, at_utc_s)

    against = next((each for each in described if angle and stated(each).words == angle.against), None)
    skew = part(angle, 1.0, delay_limit_s, abs(angle.value) if angle else 0.0)
    from_ns = against.delay_limit_ns if against else None if angle and angle.against else 0
    delay = None if skew is None or from_ns is None else hypot(skew.standard, from_ns * 1e-9 / sqrt(3.0))
    return Correction(
        zero=zero.value if zero else 0.0,
        gain=k,
        delay_s=angle.value if angle else 0.0,
        gain_part=part(gain, 1.0 / k, said.gain_limit, abs(k - 1.0)),
        zero_part=part(zero, k, offset_limit, abs(zero.value) if zero else 0.0),
        delay_part=None if skew is None or delay is None else replace(skew, standard=delay),
        skew_part=skew,
        skew_from=against.index if against else None,
        turned_hz=angle.frequency_hz if angle else None,
    )


def age_s(entry: Entry, at_utc_s: float) -> float:
    """How far a moment lies from the calibration, before or after it."""
    return abs(at_utc_s - entry.made.timestamp())


def old_share(entry: Entry, age_limit_days: float, at_utc_s: float) -> float:
    """0 up to the age limit, 1 from twice of it on, evenly between."""
    return min(max(age_s(entry, at_utc_s) / (age_limit_days * DAY_S) - 1.0, 0.0), 1.0)


def _part(
    entry: Entry, unit: float, limit: float | None, off_by: float, age_limit_days: float, at_utc_s: float
) -> Part:
    """`unit`: of the entry's standard uncertainty in that of the part; `limit`, `off_by` in the part's own."""
    its, share = entry.standard * unit, old_share(entry, age_limit_days, at_utc_s)
    came_back = share * (limit if limit is not None else off_by) / sqrt(3.0)
    whole = hypot(its, came_back)
    dof = entry.dof * (whole / its) ** 4 if its > 0.0 else inf  # Welch and Satterthwaite: the rest has infinitely many
    return Part(whole, rectangular=False, dof=dof, origin=origin(entry, share, at_utc_s))


def origin(entry: Entry, share: float, at_utc_s: float) -> str:
    """What a budget says of an entry."""
    at = f" at {entry.frequency_hz:.4g} Hz" if entry.frequency_hz is not None else ""
    words = f"{entry.what} calibration of {entry.day} against {entry.reference}{at}"
    return f"{words}, widened: {age_s(entry, at_utc_s) / YEAR_S:.1f} years away" if share > 0.0 else words


def _home(entry: Entry, described: Sequence[ChannelDescription]) -> bool:
    return any((each.name, each.place) == (entry.channel.name, entry.channel.place) for each in described)


def _nowhere(entry: Entry, described: Sequence[ChannelDescription]) -> str:
    there = ", ".join(stated(each).words for each in described)
    return f"{_of(entry)} is not used: this board has no such channel, it has {there}"


def _otherwise(entry: Entry) -> str:
    return f"{_of(entry)} is not used: the board describes this channel otherwise than it did then; calibrate it again"


def _of(entry: Entry) -> str:
    return f"The {entry.what} calibration of {entry.channel.words} of {entry.day}"
