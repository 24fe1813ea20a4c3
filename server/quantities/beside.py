"""What the delay of one channel may be off by beside that of another: for angles, powers and times between them. Pure.

What is known of each alone is of two kinds: what the board states, and an angle that was found against a voltage. What
two channels were found against the same one is known between them, whatever that one's own delay is.
"""

from dataclasses import replace
from math import hypot, sqrt

from server.quantities.analysis import Analysis
from server.quantities.uncertainty import effective_dof
from server.samples import Channel, Part

SAME_FREQUENCY = 0.02  # relative: so far a mains or a drive wanders, and the angle holds as it was found


def delay_beside(one: Channel, other: Channel) -> Part | None:
    """In seconds; None where it is not known. Of a channel beside itself it is nothing."""
    if one.index == other.index:
        return Part(0.0)
    for this, that in ((one, other), (other, one)):
        if this.skew is not None and this.skew_from == that.index:
            return this.skew
    same = one.skew_from is not None and one.skew_from == other.skew_from
    if same and one.skew is not None and other.skew is not None:
        return _both(one.skew, other.skew)
    if one.delay_error is None or other.delay_error is None:
        return None
    return _both(one.delay_error, other.delay_error)


def _both(one: Part, other: Part) -> Part:
    """Of two that are independent."""
    dof = effective_dof([(each.origin, each.standard, each.dof) for each in (one, other)])
    stated = one.rectangular and other.rectangular
    origin = one.origin if one.origin == other.origin else " and ".join((one.origin, other.origin))
    return Part(hypot(one.standard, other.standard), rectangular=stated, dof=dof, origin=origin)


def beside_words(what: str, part: Part) -> str:
    """How a budget names it: a limit that the board states needs no words of its own."""
    return what if part.rectangular else f"{what}: {part.origin}"


def at_frequency(channel: Channel, hertz: float | None) -> Channel:
    """The channel as uncertain as the angle that was found for it is at another frequency.

    A filter delays, whatever the frequency; a clamp turns by an angle that grows as the frequency falls, a delay that
    changes by its square. What a sensor does is taken to lie between: the corrected delay may be off by all of what
    parts the two, anywhere in that limit (JCGM 100, 4.3.7). The rule is ours, no published source. Other currents are
    not counted.
    """
    if not hertz or not channel.turned_hz or channel.skew is None:
        return channel
    if abs(hertz / channel.turned_hz - 1.0) <= SAME_FREQUENCY:
        return channel
    more = abs(channel.turned_s) * abs(1.0 - (channel.turned_hz / hertz) ** 2) / sqrt(3.0)
    words = f", used at {hertz:.3g} Hz"
    return replace(
        channel,
        skew=_wider(channel.skew, more, words),
        delay_error=channel.delay_error and _wider(channel.delay_error, more, words),
        turned_hz=hertz,
    )


def _wider(part: Part, more: float, words: str) -> Part:
    whole = hypot(part.standard, more)
    dof = part.dof * (whole / part.standard) ** 4 if part.standard else part.dof
    return replace(part, standard=whole, dof=dof, origin=part.origin + words)


def found_at_frequency(a: Analysis) -> Analysis:
    """The numbers of a window with every channel as uncertain as it is at the window's own frequency."""
    rows = a.layout.rows
    wider = [at_frequency(row.channel, a.frequency_hz) for row in rows]
    if all(each is row.channel for each, row in zip(wider, rows, strict=True)):
        return a  # nearly always
    layout = replace(a.layout, rows=tuple(replace(r, channel=c) for r, c in zip(rows, wider, strict=True)))
    spreads = list(a.spreads)
    for k, (row, channel) in enumerate(zip(rows, wider, strict=True)):
        if channel is not row.channel and not row.mix and channel.delay_error is not None:
            spreads[k] = replace(spreads[k], delay=channel.delay_error.standard)
    return replace(a, layout=layout, spreads=spreads)
