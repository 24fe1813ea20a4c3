"""HTML and PDF of one report: the same words, each readable by programs that are not ours, hostile text as data."""

import io
import re
import subprocess
from html.parser import HTMLParser
from zoneinfo import ZoneInfo

import pytest
from pypdf import PdfReader

from server.config import MotorSettings, Plate
from server.report.blocks import Heading
from server.report.compose import document_of, plate_words, sentences
from server.report.make import rendered
from server.report.text import plain
from tests.server.report.reports import BARE, NIGHT

BERLIN = ZoneInfo("Europe/Berlin")


class Words(HTMLParser):
    """All text of a page, its elements, and what it would load or run."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.text, self.tags, self.odd = "", set[str](), list[str]()
        self.feed(page)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.add(tag)
        self.odd += [name for name, _ in attrs if name in ("src", "href", "style") or name.startswith("on")]
        self.text += " "

    def handle_data(self, data: str) -> None:
        self.text += data


def squeezed(text: str) -> str:
    """Without what depends on where lines are broken, and on which glyph stands for one that the font lacks."""
    return re.sub(r"[\s\u00a0\u202f□]|[^\x00-\u2fff]", "", text)


@pytest.fixture(scope="module")
def night_pdf() -> PdfReader:
    return PdfReader(io.BytesIO(rendered(NIGHT, "pdf", "letter", BERLIN)))


def test_one_pole_pair_is_one() -> None:
    its = [plate_words(MotorSettings(plate=Plate(pole_pairs=pairs))) for pairs in (1, 2, 11)]
    assert its == ["1\u00a0pole pair", "2\u00a0pole pairs", "11\u00a0pole pairs"]


def test_page_and_pdf_say_every_word_of_the_report(night_pdf: PdfReader) -> None:
    page = squeezed(Words(rendered(NIGHT, "html", "a4", BERLIN).decode()).text)
    printed = squeezed("".join(each.extract_text() for each in night_pdf.pages))
    said = [plain(each) for each in sentences(document_of(NIGHT, BERLIN).parts) if each]
    assert len(said) > 150
    assert [each for each in said if squeezed(each) not in page] == []
    # A line that is broken over a page has the foot in between: words are then looked for one by one.
    missing = [each for each in said if squeezed(each) not in printed]
    assert [each for each in missing if not all(squeezed(word) in printed for word in each.split())] == []
    for sign in "φΩμ±−":
        assert sign in printed


def test_the_answer_stands_on_the_first_page_with_signs_unknown_and_what_to_do(night_pdf: PdfReader) -> None:
    first = squeezed(night_pdf.pages[0].extract_text())
    for words in (
        "It ran, but the commutator is wearing, one alarm came and it stalled",
        "bilge pump, rig heron-2, run 20261024-2020-heron-2, 24 October 2026",
        "The test of bilge pump, HB-7, has failed: it stalled.",
        "25 Oct 01:32:00 +02:00: Alarm: current above 5.0 A for 1.2 s",
        "Noise 0.14 A to 0.34 A",
        "unknown: nothing was recorded for 6 min",
        "Before that: Supply off and locked, rotor standing still.",
        "Next: Stop, let it cool, measure brush length.",
        "3541r/min",
        "The run",
        "temperature",  # the lowest of what is drawn there
    ):
        assert squeezed(words) in first, words


def test_paper_is_as_wanted_and_the_same_report_is_the_same_file(night_pdf: PdfReader) -> None:
    box = night_pdf.pages[0].mediabox
    assert (float(box.width), float(box.height)) == pytest.approx((612.0, 792.0), abs=0.1)  # Letter, 1/72 inch
    a4 = PdfReader(io.BytesIO(rendered(BARE, "pdf", "a4", BERLIN))).pages[0].mediabox
    assert (float(a4.width), float(a4.height)) == pytest.approx((595.28, 841.89), abs=0.1)  # ISO 216
    assert rendered(NIGHT, "pdf", "a4", BERLIN) == rendered(NIGHT, "pdf", "a4", BERLIN)
    page = rendered(NIGHT, "html", "letter", BERLIN).decode()
    assert "@page { size: letter;" in page


def test_no_heading_stands_alone_at_the_foot_of_a_page() -> None:
    headings = {part.text for part in document_of(NIGHT, BERLIN).parts if isinstance(part, Heading)}
    pages = PdfReader(io.BytesIO(rendered(NIGHT, "pdf", "a4", BERLIN))).pages
    above_the_foot = [page.extract_text().splitlines()[-2] for page in pages]
    assert len(above_the_foot) > 2
    assert not headings.intersection(above_the_foot)


def test_the_page_needs_nothing_but_itself_and_runs_nothing() -> None:
    page = rendered(NIGHT, "html", "a4", BERLIN).decode()
    words = Words(page)
    assert not words.tags & {"script", "img", "link", "iframe", "object", "form", "base"}
    assert words.odd == []
    assert set(re.findall(r"url\(\"([a-z]+:[a-z/]+)", page)) == {"data:font/woff"}
    (policy,) = re.findall(r'http-equiv="Content-Security-Policy" content="([^"]+)"', page)
    assert re.fullmatch(r"default-src 'none'; style-src 'sha256-[A-Za-z0-9+/=]+'; font-src data:", policy)
    assert "\x1b" not in page
    assert "\u202e" not in page


def test_other_programs_read_the_pdf() -> None:
    data = rendered(NIGHT, "pdf", "a4", BERLIN)
    try:
        said = subprocess.run(["pdftotext", "-layout", "-", "-"], input=data, capture_output=True, check=True)
    except FileNotFoundError:
        pytest.skip("the program pdftotext is not installed (Debian: poppler-utils)")
    text = said.stdout.decode()
    assert said.stderr == b""
    assert "Measured while it ran" in text
    assert re.search(r"speed\s+3.541\.2 ± 1\.3 r/min", text.replace("\u202f", " ").replace("\u00a0", " "))
    assert "02:30" not in text  # nothing happened then; 02:32 has its offset
    assert re.search(r"25 Oct 02:32:00 \+02:00", text)


def test_a_report_of_nothing_says_so_in_each_part() -> None:
    text = Words(rendered(BARE, "html", "a4", BERLIN).decode()).text
    for words in (
        "It was not seen running",
        "Nothing was measured that could be drawn.",
        "There is no test plan for this run.",
        "No alarms are kept with this run.",
        "Nothing was concluded of this run.",
        "there is nothing to account for",
    ):
        assert words in text
    assert "nan" not in text.lower().split()
