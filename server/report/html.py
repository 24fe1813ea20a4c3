"""A report as one page of HTML: nothing runs or loads in it, and it prints on A4 or Letter.

Pure, but for its style and font, which it reads.
"""

import base64
import hashlib
from html import escape
from pathlib import Path
from typing import Final

from server.report.blocks import (
    Answer,
    Area,
    Caution,
    Document,
    Drawing,
    Facts,
    Figure,
    Figures,
    Hatch,
    Heading,
    Line,
    Lines,
    Part,
    Shape,
    Signs,
    Table,
    Text,
)
from server.report.fonts import font_faces
from server.report.text import plain

INKS: Final = {
    "ink": "#14201e",
    "second": "#465350",
    "rule": "#c3ccc9",
    "tint": "#dfe5e2",
    "voltage": "#075e9e",
    "current": "#a04a00",
    "speed": "#00694f",
    "alarm": "#b0102a",
    "paper": "#ffffff",
}
LIGHT: Final = {"voltage": "#c1d7e7", "current": "#e7d2bf", "speed": "#bfdad3", "ink": "#c4c7c6"}
PAPERS: Final = {"a4": "A4", "letter": "letter"}
HATCH_STEP = 5.0
_STYLE = (Path(__file__).parent / "report.css").read_text(encoding="utf-8")
_MARKS = {
    "for": "M2 8l4 4 8-10",
    "against": "M3 3l10 10M13 3L3 13",
    "missing": "M1 8h3M6.5 8h3M12 8h3",
    "note": "M6.5 8h3",
}


def html(document: Document, paper: str = "a4") -> str:
    """The whole page. `paper`: a4 or letter."""
    body = f"<main>{''.join(map(_part, document.parts))}</main><footer>{_said(document.foot)}</footer>"
    style = font_faces(body) + _STYLE.replace("PAPER", PAPERS[paper])
    return (
        f'<!doctype html><html lang="en"><head><meta charset="utf-8"><title>{_said(document.title)}</title>'
        f'<meta http-equiv="Content-Security-Policy" content="{_policy(style)}">'
        '<meta name="viewport" content="width=device-width,initial-scale=1">'
        f"<style>{style}</style></head><body>{body}</body></html>"
    )


def _policy(style: str) -> str:
    """What the page may do: use its own style with the font in it, and nothing else."""
    digest = base64.b64encode(hashlib.sha256(style.encode()).digest()).decode()
    return f"default-src 'none'; style-src 'sha256-{digest}'; font-src data:"


def _said(text: str) -> str:
    return escape(plain(text))


def _part(part: Part) -> str:
    if isinstance(part, Answer):
        return f'<p class="over">{_said(part.second)}</p><h1>{_said(part.text)}</h1>'
    if isinstance(part, Heading):
        second = f' <span class="second">{_said(part.second)}</span>' if part.second else ""
        return f"<h2{' class=page' if part.page else ''}>{_said(part.text)}{second}</h2>"
    if isinstance(part, Text):
        return f"<p{' class=second' if part.second else ''}>{_said(part.text)}</p>"
    if isinstance(part, Caution):
        return f'<p class="caution"><b>{_said(part.strong)}</b> {_said(part.text)}</p>'
    if isinstance(part, Facts):
        rows = "".join(f"<div><dt>{_said(name)}</dt><dd>{_said(words)}</dd></div>" for name, words in part.rows)
        return f"<dl>{rows}</dl>"
    if isinstance(part, Figures):
        return f'<div class="figures">{"".join(map(_figure, part.rows))}</div>'
    if isinstance(part, Signs):
        return (
            f"<ul>{''.join(f'<li>{_mark(each.mark)}<span>{_said(each.text)}</span></li>' for each in part.rows)}</ul>"
        )
    if isinstance(part, Table):
        return _table(part)
    if isinstance(part, Lines):
        return f"<pre>{chr(10).join(map(_said, part.lines))}</pre>"
    return _drawing(part)


def _figure(its: Figure) -> str:
    unit = f'<span class="unit {its.ink}">{_said(its.unit)}</span>' if its.unit else ""
    lines = f'<span class="second">{_said(its.name)}</span>', f"<b>{_said(its.value)}</b> {unit}"
    return f'<p>{"<br>".join(lines)}<br><span class="second">{_said(its.below)}</span></p>'


def _mark(mark: str) -> str:
    names = {"for": "for: ", "against": "against: ", "missing": "not known: ", "note": ""}
    label = f'role="img" aria-label="{names[mark]}"' if names[mark] else 'aria-hidden="true"'
    path = f'<path d="{_MARKS[mark]}" fill="none" stroke="{INKS["ink"]}" stroke-width="2"/>'
    return f'<svg viewBox="0 0 16 16" {label}>{path}</svg>'


def _table(table: Table) -> str:
    def cells(row: tuple[str, ...], tag: str) -> str:
        said = enumerate(row)
        return "".join(f"<{tag}{' class=r' if k in table.right else ''}>{_said(each)}</{tag}>" for k, each in said)

    rows = "".join(
        f"<tr{' class=strong' if k in table.strong else ''}>{cells(row, 'td')}</tr>" for k, row in enumerate(table.rows)
    )
    return (
        f'<div class="wide"><table><thead><tr>{cells(table.head, "th")}</tr></thead><tbody>{rows}</tbody></table></div>'
    )


def _drawing(drawing: Drawing) -> str:
    shapes = "".join(map(_shape, drawing.shapes))
    box = f'viewBox="0 0 {drawing.wide:g} {drawing.high:g}"'
    svg = f'<svg {box} role="img" aria-label="{_said(drawing.sentence)}">{shapes}</svg>'
    return f'<figure class="wide">{svg}</figure>'


def _shape(shape: Shape) -> str:
    if isinstance(shape, Line):
        path = "M" + "L".join(f"{x:.1f} {y:.1f}" for x, y in shape.points)
        dash = f' stroke-dasharray="{" ".join(f"{each:g}" for each in shape.dash)}"' if shape.dash else ""
        pen = f'stroke="{INKS[shape.ink]}" stroke-width="{shape.width:g}" stroke-linejoin="round"{dash}'
        return f'<path d="{path}" fill="none" {pen}/>'
    if isinstance(shape, Area):
        path = "M" + "L".join(f"{x:.1f} {y:.1f}" for x, y in shape.points) + "Z"
        edge = f' stroke="{INKS["ink"]}" stroke-width=".7"' if shape.edge else ""
        return f'<path d="{path}" fill="{LIGHT[shape.ink] if shape.light else INKS[shape.ink]}"{edge}/>'
    if isinstance(shape, Hatch):
        size = f'width="{shape.wide:.1f}" height="{shape.high:.1f}"'
        sheet = f'<rect x="{shape.x:.1f}" y="{shape.y:.1f}" {size} fill="{INKS["paper"]}"/>'
        path = "".join(f"M{x1:.1f} {y1:.1f}L{x2:.1f} {y2:.1f}" for (x1, y1), (x2, y2) in strokes(shape))
        return f'{sheet}<path d="{path}" fill="none" stroke="{INKS["second"]}" stroke-width=".7"/>'
    weight = ' font-weight="650"' if shape.strong else ""
    where = f'x="{shape.x:.1f}" y="{shape.y:.1f}" text-anchor="{shape.anchor}" font-size="{shape.size:g}"'
    return f'<text {where} fill="{INKS[shape.ink]}"{weight}>{_said(shape.text)}</text>'


def strokes(hatch: Hatch) -> list[tuple[tuple[float, float], tuple[float, float]]]:
    """Slanting strokes that fill the rectangle and stay in it."""
    x1, x2, y1, y2 = hatch.x, hatch.x + hatch.wide, hatch.y, hatch.y + hatch.high
    found = []
    at = HATCH_STEP
    while at < hatch.wide + hatch.high:
        begin = (x1 + max(0.0, at - hatch.high), min(y1 + at, y2))
        end = (min(x1 + at, x2), y1 + max(0.0, at - hatch.wide))
        found.append((begin, end))
        at += HATCH_STEP
    return found
