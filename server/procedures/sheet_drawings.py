"""Drawings of a kept check for its page: the wires now and after, signals against electrical angle. SVG; pure."""

from collections.abc import Mapping, Sequence
from html import escape
from typing import Any

Record = Mapping[str, Any]
_WIDE, _LEFT, _FIRST = 680.0, 96.0, 30.0
_TURN = 360.0
_MARGIN_DEG = 2.0


def wires_svg(cable: Record) -> str:
    """Three wires: on the left the places as they are with the person's names, on the right where they go."""
    places, names, to = (_list(cable.get(key)) for key in ("places", "names", "to"))
    if not len(places) == len(to) == 3 or not all(one in (0, 1, 2) for one in to):
        return ""
    parts = []
    for k, (place, goes) in enumerate(zip(places, to, strict=True)):
        y1, y2 = 22 + 26 * k, 22 + 26 * int(goes)
        name = f" {names[k]}" if k < len(names) and names[k] else ""
        parts.append(f'<path class="line" d="M110 {y1}C170 {y1} 170 {y2} 230 {y2}"/>')
        parts.append(f'<text class="e b" x="104" y="{y1 + 4}">{escape(str(place) + str(name))}</text>')
        parts.append(f'<text class="b" x="236" y="{22 + 26 * k + 4}">{escape(str(place))}</text>')
    what = escape(str(cable.get("what", "")))
    return (
        f'<svg viewBox="0 0 300 96" role="img" aria-label="{what}"><text class="m n" x="170" y="10">{what}</text>'
        f"{''.join(parts)}</svg>"
    )


def timing_svg(timing: Record) -> str:
    """Back-EMF between the leads over Hall A, B, C as found (solid) and where they belong (dashed)."""
    try:
        return _timing(timing)
    except (KeyError, TypeError, ValueError, IndexError, ZeroDivisionError):
        return ""  # a file that somebody has changed


def _timing(timing: Record) -> str:
    step = float(timing["bin_deg"])
    peak = float(timing["peak_v"])
    parts = [f'<line class="faint" x1="{_x(30 + 60 * k)}" x2="{_x(30 + 60 * k)}" y1="4" y2="196"/>' for k in range(7)]
    for pair in ("UW", "VU", "WV"):
        parts.append(_wave([float(value) for value in timing["volts"][pair]], step, 34.0, 26.0 / peak))
    parts.append(f'<text class="e v" x="{_LEFT - 8}" y="38">±{peak:.2g} V</text>')
    for k, hall in enumerate(timing["halls"]):
        y = 96.0 + 40.0 * k
        parts.append(f'<path class="ghost" d="{_square(float(hall["right_deg"]), y)}"/>')
        parts.append(f'<path class="line" d="{_levels(hall, y)}"/>')
        parts.append(f'<text class="e b" x="{_LEFT - 8}" y="{y - 6}">Hall {escape(str(hall["name"]))}</text>')
        parts.append(f'<text class="n" x="{_WIDE - 88}" y="{y - 6}">{escape(str(hall["words"][0]))}</text>')
    parts.append(
        f'<text class="e b" x="{_LEFT - 8}" y="209">found</text><text class="e n" x="{_LEFT - 8}" y="227">right</text>'
    )
    for k, (found, right) in enumerate(zip(timing["found"], timing["right"], strict=True)):
        x = _x(60.0 + 60.0 * k)
        if found != right:
            parts.append(f'<rect class="box" x="{x - 30:.1f}" y="198" width="60" height="15"/>')
        parts.append(f'<text class="m b" x="{x:.1f}" y="210">{int(found)}</text>')
        parts.append(f'<text class="m n" x="{x:.1f}" y="227">{int(right)}</text>')
    said = escape(str(timing.get("sentence", "")))
    return f'<svg viewBox="0 0 {_WIDE:.0f} 232" role="img" aria-label="{said}">{"".join(parts)}</svg>'


def _x(angle_deg: float) -> float:
    """Of an angle from 30 degrees on."""
    return round(_LEFT + (angle_deg - _FIRST) / _TURN * (_WIDE - _LEFT - 96.0), 1)


def _wave(values: Sequence[float], step: float, y0: float, scale: float) -> str:
    count = len(values)
    first = round(_FIRST / step)
    points = [
        f"{_x(_FIRST + (k + 0.5) * step):.1f} {y0 - scale * values[(first + k) % count]:.1f}" for k in range(count)
    ]
    return f'<path class="volt" d="M{"L".join(points)}"/>'


def _square(rise_deg: float, y: float) -> str:
    return _track([(rise_deg, True), (rise_deg + 180.0, False)], False, y)


def _levels(hall: Record, y: float) -> str:
    """As found; `high`: what an input reads that has no edge."""
    return _track([(float(deg), bool(up)) for deg, up in hall["edges"]], bool(hall["high"]), y)


def _track(edges: Sequence[tuple[float, bool]], high: bool, y: float) -> str:
    """From the margin on; an edge just beside a margin is no upright."""
    along = sorted(((deg - _FIRST) % _TURN, up) for deg, up in edges)
    start = not along[0][1] if along else high
    if along and along[0][0] < _MARGIN_DEG:
        start, along = along[0][1], along[1:]
    return _steps([deg + _FIRST for deg, _ in along if deg < _TURN - _MARGIN_DEG], start, y)


def _steps(edges: Sequence[float], high: bool, y: float) -> str:
    path = f"M{_x(_FIRST)} {_y(high, y)}"
    for at in edges:
        high = not high
        path += f"H{_x(at)}V{_y(high, y)}"
    return f"{path}H{_x(_FIRST + _TURN)}"


def _y(high: bool, y: float) -> float:
    return y - 20.0 if high else y


def _list(value: object) -> Sequence[Any]:
    return value if isinstance(value, list) else []
