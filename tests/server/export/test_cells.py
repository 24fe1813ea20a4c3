"""Cells of a CSV file: any text comes back, and no spreadsheet computes one."""

import csv
import io

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.export.cells import line, list_cell, number_cells, text_cell


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
    values = np.array([-5.25, 0.0, 1e-12, float("nan"), 123456789.04, float("inf")])
    assert number_cells(values) == ["-5.25", "0", "1e-12", "", "123456789", "inf"]
    assert number_cells(values[:3], 3) == ["-5.25", "0", "1e-12"]
    assert [list_cell(each) for each in ((), (1.5,), (0.25, -2.0, 1e-9))] == ["", "1.5", "0.25 -2 1e-09"]
