"""Cells of a CSV file: any text comes back, and no spreadsheet computes one."""

import csv
import io

import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.export.cells import line, number_cell, text_cell


@pytest.mark.parametrize("text", ["=1+1", "+1", "-1", "@SUM(A1)", "\t=1", "\r=1", " =1", "＝1", "\n@a"])
def test_what_a_spreadsheet_would_compute_begins_with_an_apostrophe(text: str) -> None:
    """The list of OWASP's page on CSV injection, and the same signs at full width; from memory."""
    cell = next(csv.reader(io.StringIO(line([text_cell(text)]), newline="")))[0]
    assert cell.startswith("'")


@given(st.lists(st.text(), min_size=2, max_size=4))
def test_any_text_stays_one_cell_of_one_line(texts: list[str]) -> None:
    written = line(map(text_cell, texts))
    (row,) = csv.reader(io.StringIO(written, newline=""), strict=True)
    assert len(row) == len(texts)
    assert written.count("\n") == 1
    for text, cell in zip(texts, row, strict=True):
        assert (
            cell.lstrip("'").split()
            == "".join(" " if ord(c) < 32 or 127 <= ord(c) < 160 else c for c in text).lstrip("'").split()
            or "'" in text
        )
        assert not cell.lstrip().startswith(("=", "+", "-", "@"))


def test_numbers_are_numbers_and_nothing_is_nothing() -> None:
    assert [number_cell(each) for each in (-5.25, 0.0, 1e-12, float("nan"))] == ["-5.25", "0", "1e-12", ""]
