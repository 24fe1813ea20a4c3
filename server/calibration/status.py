"""How each channel of a board is calibrated, in words and as the API tells it. Pure."""

from collections.abc import Sequence

from firmware_protocol import ChannelDescription, Role
from server.calibration.correction import YEAR_S, age_s, old_share
from server.calibration.entry import BoardCalibration, Entry, What, stated
from server.calibration.found import u95

_STATED = {What.ZERO: "offset_limit_codes", What.GAIN: "gain_limit", What.ANGLE: "delay_limit_ns"}


def channel_records(
    calibration: BoardCalibration,
    described: Sequence[ChannelDescription],
    held: Sequence[ChannelDescription],
    now_utc_s: float,
) -> list[dict[str, object]]:
    """Of each evenly sampled channel: what holds, in words, and its history, newest first.

    `described`: as the board says it, which is what a calibration is bound to; `held`: role and place as they hold.
    """
    both = zip(described, held, strict=True)
    return [_channel(calibration, said, its, now_utc_s) for said, its in both if said.group is not None]


def _channel(
    calibration: BoardCalibration, said: ChannelDescription, held: ChannelDescription, now_utc_s: float
) -> dict[str, object]:
    its = stated(said)
    history = [each for each in calibration.entries if (each.channel.name, each.channel.place) == (its.name, its.place)]
    kinds = [what for what in What if what is not What.ANGLE or held.role is Role.CURRENT]
    holding = {what: calibration.holds(what, its) for what in kinds}
    return {
        "channel": said.index,
        "role": held.role.name.lower(),
        "name": said.name,
        "place": held.place,
        "unit": said.unit,
        "words": {what.value: _words(entry, what, said, calibration, now_utc_s) for what, entry in holding.items()},
        "entries": [entry_record(each, each is holding.get(each.what)) for each in reversed(history)],
    }


def _words(
    entry: Entry | None, what: What, said: ChannelDescription, calibration: BoardCalibration, now_utc_s: float
) -> str:
    limit = getattr(said, _STATED[what]) is not None
    if entry is None:
        its = "the board's stated limit holds" if limit else "the board states no limit, so its ± is not known"
        return f"not calibrated: {its}"
    if entry.channel != stated(said):
        return "not used: the board describes this channel otherwise than when it was calibrated; calibrate it again"
    words = f"{entry.day} against {entry.reference}"
    if old_share(entry, calibration.age_limit_days, now_utc_s) > 0.0:
        years = age_s(entry, now_utc_s) / YEAR_S
        words += f"; {years:.1f} years old, so ± is wider: calibrate it again"
    return words


def entry_record(entry: Entry, holds: bool) -> dict[str, object]:
    """One entry as the API tells it."""
    return {
        "what": entry.what.value,
        "made_utc_s": entry.made.timestamp(),
        "reference": entry.reference,
        "value": entry.value,
        "u95": u95([("", entry.standard, entry.dof)]),
        "frequency_hz": entry.frequency_hz,
        "against": entry.against,
        "undone_utc_s": None if entry.undone is None else entry.undone.timestamp(),
        "holds": holds,
    }
