"""A report in a real browser: looked at on a desk and a phone, and printed on one sheet of paper after the other."""

import io
import re
from pathlib import Path
from zoneinfo import ZoneInfo

from playwright.sync_api import Browser
from pypdf import PdfReader

from server.report.make import rendered
from tests.journeys.page import SIZES
from tests.server.report.reports import NIGHT

_OUTSIDE = """[...document.querySelectorAll('figure svg text')].filter(text => {
  const sheet = text.ownerSVGElement.getBoundingClientRect(), box = text.getBoundingClientRect();
  return box.left < sheet.left - 1 || box.right > sheet.right + 1 || box.bottom > sheet.bottom + 1;
}).map(text => text.textContent)"""


def test_a_report_is_read_and_printed_by_a_browser(browser: Browser, tmp_path: Path) -> None:
    """On Letter, the lower of the two: what stands on its first page stands on that of A4."""
    path = tmp_path / "night.html"
    path.write_bytes(rendered(NIGHT, "html", "letter", ZoneInfo("Europe/Berlin")))
    complaints: list[str] = []
    for width, height in SIZES.values():
        page = browser.new_page(viewport={"width": width, "height": height})
        page.on("console", lambda message: complaints.append(message.text))
        page.on("pageerror", lambda error: complaints.append(str(error)))
        page.on("request", lambda request: complaints.append(request.url) if request.url[:5] == "http:" else None)
        page.goto(path.as_uri())
        assert page.evaluate("document.documentElement.scrollWidth") <= width
        assert page.evaluate("document.fonts.check('16px \"Source Sans Pro\"', 'φΩ')")
        assert page.evaluate(_OUTSIDE) == []
        if width > height:
            printed = PdfReader(io.BytesIO(page.pdf(prefer_css_page_size=True)))
        page.close()
    assert complaints == []
    size = printed.pages[0].mediabox
    assert (round(float(size.width)), round(float(size.height))) == (612, 792)
    first = re.sub(r"\s", "", printed.pages[0].extract_text())
    assert "Itran,butthecommutatoriswearing" in first
    assert "Therun" in first
    assert "Whatran" not in first  # what it rests on begins on the second
    assert "Whatran" in re.sub(r"\s", "", printed.pages[1].extract_text())
    assert 3 <= len(printed.pages) <= 6
