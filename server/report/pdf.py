"""A report as PDF, of the same parts as the HTML and without a browser. Reads only its own fonts."""

from datetime import UTC, datetime
from typing import Literal, cast

from fpdf import FPDF
from fpdf.enums import Align, TableBordersLayout, TableHeadingsDisplay, VAlign, XPos, YPos
from fpdf.fonts import FontFace, TTFFont

from server.report.blocks import (
    Answer,
    Caution,
    Document,
    Drawing,
    Facts,
    Figures,
    Heading,
    Lines,
    Mark,
    Part,
    Signs,
    Table,
    Text,
)
from server.report.fonts import FAMILY, REGULAR, SEMIBOLD
from server.report.html import INKS
from server.report.pdf_drawing import draw
from server.report.text import plain

MARGIN, FOOT = 16.0, 18.0  # mm
SMALLEST = 0.7  # of its whole size, to which a drawing is made smaller
LEADING = 1.35
_PT = 25.4 / 72.0
_MARKS: dict[Mark, tuple[tuple[tuple[float, float], ...], ...]] = {  # on a square of 1
    "for": (((0.1, 0.5), (0.4, 0.8), (0.9, 0.1)),),
    "against": (((0.15, 0.15), (0.85, 0.85)), ((0.85, 0.15), (0.15, 0.85))),
    "missing": (((0.0, 0.5), (0.12, 0.5)), ((0.44, 0.5), (0.56, 0.5)), ((0.88, 0.5), (1.0, 0.5))),
    "note": (((0.45, 0.5), (0.55, 0.5)),),
}


def pdf(document: Document, paper: str = "a4", made_utc_s: float = 0.0) -> bytes:
    """The whole file. `paper`: a4 or letter; `made_utc_s`: the date in it, so that the same report is the same file."""
    sheet = _Sheet(document.foot, "A4" if paper == "a4" else "Letter")
    sheet.set_title(sheet.fit(document.title))
    sheet.set_lang("en")
    sheet.set_creation_date(datetime.fromtimestamp(made_utc_s, UTC))
    sheet.add_page()
    try:
        for k, part in enumerate(document.parts):
            sheet.put(part, document.parts[k + 1] if k + 1 < len(document.parts) else None)
        return bytes(sheet.output())
    finally:
        sheet.close_fonts()


class _Sheet(FPDF):
    def __init__(self, foot: str, paper: Literal["A4", "Letter"]) -> None:
        super().__init__(unit="mm", format=paper)
        self.add_font(FAMILY, "", REGULAR)
        self.add_font(FAMILY, "B", SEMIBOLD)
        self._known = frozenset(cast(TTFFont, self.fonts[FAMILY.lower()]).cmap)
        self._foot = foot
        self.set_margins(MARGIN, MARGIN, MARGIN)
        self.c_margin = 0.0
        self.set_auto_page_break(True, FOOT)
        self.set_line_width(0.2)

    def footer(self) -> None:
        self.set_y(-FOOT + 6.0)
        self._pen("second", 8.0)
        self._write(self.fit(self._foot), 8.0, self.epw - 20.0)
        self.set_xy(self.w - MARGIN - 20.0, -FOOT + 6.0)
        self.cell(20.0, 8.0 * _PT * LEADING, f"{self.page_no()}", align=Align.R)

    def close_fonts(self) -> None:
        """Their files are held open until then."""
        for font in self.fonts.values():
            cast(TTFFont, font).ttfont.close()

    def fit(self, text: str) -> str:
        """Plain, and a square for what the font does not have."""
        return "".join(each if ord(each) in self._known else "□" for each in plain(text))

    def put(self, part: Part, following: Part | None) -> None:
        """One part, where the one before ended."""
        if isinstance(part, Answer):
            self._pen("second", 10.5)
            self._write(self.fit(part.second), 10.5)
            self.ln(1.5)
            self._pen("ink", 25.0, strong=True)
            self._write(self.fit(part.text), 25.0, leading=1.12)
            self.ln(3.0)
        elif isinstance(part, Heading):
            self._heading(part, following)
        elif isinstance(part, Text):
            self._pen("second" if part.second else "ink", 8.5 if part.second else 10.0)
            self._write(self.fit(part.text), 8.5 if part.second else 10.0, min(self.epw, 155.0))
            self.ln(1.2)
        elif isinstance(part, Caution):
            self._caution(part)
        elif isinstance(part, Facts):
            self._facts(part)
        elif isinstance(part, Figures):
            self._figures(part)
        elif isinstance(part, Signs):
            for each in part.rows:
                self._sign(each.mark, each.text)
            self.ln(1.5)
        elif isinstance(part, Table):
            self._rows(part)
        elif isinstance(part, Lines):
            self._settings(part)
        else:
            self._draw(part)

    def _pen(self, ink: str, size: float, strong: bool = False) -> None:
        self.set_font(FAMILY, "B" if strong else "", size)
        self.set_text_color(INKS[ink])

    def _write(self, text: str, size: float, wide: float = 0.0, leading: float = LEADING) -> None:
        self.multi_cell(wide, size * _PT * leading, text, align=Align.L, new_x=XPos.LMARGIN, new_y=YPos.NEXT)

    def _height(self, text: str, size: float, wide: float) -> float:
        said = self.multi_cell(wide, size * _PT * LEADING, text, dry_run=True, output="HEIGHT", align=Align.L)
        return cast(float, said)

    def _room(self, high: float) -> None:
        """A new page where so much does not fit any more."""
        if self.get_y() + high > self.h - FOOT:
            self.add_page()

    def _heading(self, part: Heading, following: Part | None) -> None:
        """Never alone at the foot: what begins below it, a table with its first row, fits beneath."""
        if part.page:
            self.add_page()
        high = 90.0 if isinstance(following, Drawing) else 36.0 if isinstance(following, Table) else 24.0
        self._room(high)
        self.ln(4.0 if self.get_y() > MARGIN + 1.0 else 0.0)
        self.set_draw_color(INKS["ink"])
        self.set_line_width(0.35)
        self.line(MARGIN, self.get_y(), self.w - MARGIN, self.get_y())
        self.ln(1.8)
        self._pen("ink", 12.5, strong=True)
        text = self.fit(part.text)
        wide = self.get_string_width(text)
        y = self.get_y()
        self._write(text, 12.5)
        if part.second and wide + 6.0 < self.epw:
            below = self.get_y()
            self.set_xy(MARGIN + wide + 3.0, y + 1.2)
            self._pen("second", 9.0)
            self._write(self.fit(part.second), 9.0)
            self.set_y(max(below, self.get_y()))
        self.ln(1.0)

    def _caution(self, part: Caution) -> None:
        self._pen("ink", 10.0)
        text = f"{self.fit(part.strong)} {self.fit(part.text)}"
        high = self._height(text, 10.0, self.epw - 8.0)
        self._room(high + 6.0)
        self.ln(1.0)
        self.set_draw_color(INKS["ink"])
        self.set_line_width(0.5)
        top = self.get_y()
        self.rect(MARGIN, top, self.epw, high + 4.0)
        self.set_left_margin(MARGIN + 4.0)
        self.set_right_margin(MARGIN + 4.0)
        self.set_xy(MARGIN + 4.0, top + 2.0)
        for words, strong in ((f"{part.strong} ", True), (part.text, False)):
            self._pen("ink", 10.0, strong)
            self.write(10.0 * _PT * LEADING, self.fit(words))
        self.set_margins(MARGIN, MARGIN, MARGIN)
        self.set_y(top + high + 6.0)

    def _facts(self, part: Facts) -> None:
        gap, name_wide = 8.0, 20.0
        column = (self.epw - gap) / 2.0
        for k in range(0, len(part.rows), 2):
            pair = part.rows[k : k + 2]
            highs = []
            for _, words in pair:
                self._pen("ink", 10.0)
                highs.append(self._height(self.fit(words), 10.0, column - name_wide))
            high = max(highs) + 1.8
            self._room(high)
            top = self.get_y()
            for side, (name, words) in enumerate(pair):
                x = MARGIN + side * (column + gap)
                self.set_draw_color(INKS["rule"])
                self.set_line_width(0.2)
                self.line(x, top, x + column, top)
                self.set_xy(x, top + 0.9)
                self._pen("second", 10.0)
                self.cell(name_wide, 10.0 * _PT * LEADING, self.fit(name))
                self._pen("ink", 10.0)
                self.set_xy(x + name_wide, top + 0.9)
                self.multi_cell(column - name_wide, 10.0 * _PT * LEADING, self.fit(words), align=Align.L)
            self.set_y(top + high)
        self.ln(1.0)

    def _figures(self, part: Figures) -> None:
        self._room(24.0)
        self.ln(2.0)
        top, column = self.get_y(), self.epw / max(len(part.rows), 3)
        for k, each in enumerate(part.rows):
            x = MARGIN + k * column
            self.set_xy(x, top)
            self._pen("second", 9.0)
            self.cell(column - 3.0, 4.5, self.fit(each.name))
            self.set_xy(x, top + 5.0)
            self._pen("ink", 26.0, strong=True)
            value = self.fit(each.value)
            wide = self.get_string_width(value)
            self.cell(wide, 10.5, value)
            self.set_xy(x + wide + 1.2, top + 7.2)
            self._pen(each.ink, 15.0)
            self.cell(column - wide, 8.0, self.fit(each.unit))
            self.set_xy(x, top + 16.0)
            self._pen("second", 9.0)
            self.cell(column - 3.0, 4.5, self.fit(each.below))
        self.set_y(top + 21.0)

    def _sign(self, mark: Mark, text: str) -> None:
        size, high = 10.5, 10.5 * _PT * LEADING
        self._room(high)
        self.set_draw_color(INKS["ink"])
        self.set_line_width(0.5)
        edge, x, y = 3.0, MARGIN, self.get_y() + 0.9
        for points in _MARKS[mark]:
            self.polyline([(x + edge * px, y + edge * py) for px, py in points])
        self.set_x(MARGIN + 6.0)
        self._pen("ink", size)
        self.multi_cell(self.epw - 6.0, high, self.fit(text), align=Align.L, new_x=XPos.LMARGIN, new_y=YPos.NEXT)
        self.ln(0.6)

    def _rows(self, part: Table) -> None:
        self._pen("ink", 9.0)
        self.set_fill_color(INKS["paper"])
        self.set_draw_color(INKS["rule"])
        self.set_line_width(0.2)
        aligns = [Align.R if k in part.right else Align.L for k in range(len(part.head))]
        head = FontFace(emphasis="", color=INKS["second"], size_pt=8.5)
        with self.table(
            borders_layout=TableBordersLayout.HORIZONTAL_LINES,
            headings_style=head,
            first_row_as_headings=True,
            repeat_headings=TableHeadingsDisplay.ON_TOP_OF_EVERY_PAGE,
            line_height=9.0 * _PT * LEADING,
            padding=(0.8, 3.0, 0.8, 0.0),
            col_widths=part.shares,
            text_align=aligns,
            v_align=VAlign.T,
        ) as table:
            table.row(list(map(self.fit, part.head)))
            for k, cells in enumerate(part.rows):
                strong = FontFace(emphasis="BOLD") if k in part.strong else None
                table.row(list(map(self.fit, cells)), style=strong)
        self.ln(1.5)

    def _settings(self, part: Lines) -> None:
        self._pen("ink", 8.5)
        for each in part.lines:
            self._write(self.fit(each), 8.5)
        self.ln(1.5)

    def _draw(self, part: Drawing) -> None:
        most = self.h - MARGIN - FOOT
        scale = min(self.epw / part.wide, most / part.high)
        left = (self.h - FOOT - self.get_y()) / part.high  # smaller rather than on another page, while it can be read
        scale = min(scale, left) if left >= SMALLEST * scale else scale
        self._room(part.high * scale)
        top = self.get_y()
        for shape in part.shapes:
            draw(self, shape, (MARGIN, top), scale, self.fit)
        self.set_dash_pattern()
        self.set_y(top + part.high * scale + 2.0)
