"""Shapes of a report's drawing on a sheet of PDF: the same as in the page's SVG."""

from collections.abc import Callable, Iterable

from fpdf import FPDF

from server.report.blocks import Area, Hatch, Label, Point, Shape
from server.report.fonts import FAMILY
from server.report.html import INKS, LIGHT, strokes

_PT = 25.4 / 72.0
_SHARES = {"start": 0.0, "middle": 0.5, "end": 1.0}


def draw(sheet: FPDF, shape: Shape, corner: Point, scale: float, fit: Callable[[str], str]) -> None:
    """`corner`: where the drawing begins, mm; `scale`: mm a unit; `fit`: a text as the font can show it."""

    def at(points: Iterable[Point]) -> list[Point]:
        return [(corner[0] + scale * x, corner[1] + scale * y) for x, y in points]

    if isinstance(shape, Area):
        sheet.set_fill_color(LIGHT[shape.ink] if shape.light else INKS[shape.ink])
        _stroke(sheet, "ink", 0.7 * scale)
        sheet.polygon(at(shape.points), style="DF" if shape.edge else "F")
    elif isinstance(shape, Hatch):
        sheet.set_fill_color(INKS["paper"])
        ((x, y),) = at([(shape.x, shape.y)])
        sheet.rect(x, y, scale * shape.wide, scale * shape.high, style="F")
        _stroke(sheet, "second", 0.7 * scale)
        for each in strokes(shape):
            sheet.polyline(at(each))
    elif isinstance(shape, Label):
        sheet.set_font(FAMILY, "B" if shape.strong else "", shape.size * scale / _PT)
        sheet.set_text_color(INKS[shape.ink])
        text = fit(shape.text)
        ((x, y),) = at([(shape.x, shape.y)])
        sheet.text(x - _SHARES[shape.anchor] * sheet.get_string_width(text), y, text)
    else:
        _stroke(sheet, shape.ink, shape.width * scale, tuple(scale * each for each in shape.dash))
        sheet.polyline(at(shape.points))


def _stroke(sheet: FPDF, ink: str, width: float, dash: tuple[float, ...] = ()) -> None:
    sheet.set_draw_color(INKS[ink])
    sheet.set_line_width(width)
    sheet.set_dash_pattern(*dash[:2]) if dash else sheet.set_dash_pattern()
