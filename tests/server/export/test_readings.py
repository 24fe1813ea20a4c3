"""Readings of a run as CSV, Parquet and NumPy: each with its ±, its confidence and its reason."""

import csv
from pathlib import Path
from typing import Any

import duckdb
import numpy as np
import pandas as pd
import pyarrow.parquet
import pytest

from server.export import Wanted, numpy_readings
from server.export import readings as gathering
from server.export.format import ExportError, Readings
from server.export.make import make
from server.runs.replay import Replay
from tests.server.export.runs import OPENED_UTC_S, run_of

LOST = (range(2300, 2320),)


@pytest.fixture(scope="module")
def run(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return run_of(tmp_path_factory.mktemp("runs"), lost=LOST)


def played(run: Path) -> list[dict[str, Any]]:
    """Readings by id, instant by instant, straight from the pipeline."""
    outputs = [each.output for each in Replay(run) if each.output is not None]
    return [
        {each.id: each for each in instant.readings}
        for output in outputs
        for part in output.parts
        for instant in part.instants
    ]


def test_csv_says_what_the_pipeline_said_with_doubt_and_absence(run: Path, tmp_path: Path) -> None:
    make(run, "csv", Wanted(), tmp_path / "out.csv")
    with (tmp_path / "out.csv").open(newline="", encoding="utf-8") as file:
        rows = list(csv.DictReader(file, strict=True))
    said = played(run)
    assert len(rows) == len(said)
    seen = set()
    for row, readings in zip(rows, said, strict=True):
        for key, unit in (("current_rms_a", " [A]"), ("speed_rpm", " [r/min]"), ("run_state", "")):
            reading = readings.get(key)
            confidence = row[f"{key}_confidence"]
            assert confidence == ("" if reading is None else reading.confidence.value)
            seen.add(confidence)
            if reading is None or reading.value is None:
                assert row[key + unit] == ""
            elif unit:
                assert float(row[key + unit]) == pytest.approx(reading.value, rel=1e-8)
            else:
                assert row[key] == reading.value
            assert row[f"{key}_reason"] == ("" if reading is None else reading.reason)
            if unit and reading is not None and reading.uncertainty is not None:
                assert float(row[f"{key}_u95{unit}"]) == pytest.approx(reading.uncertainty.half, rel=0.005)
    assert seen == {"", "good", "doubtful", "absent"}
    assert rows[0]["utc"].startswith("2026-11-25T14:02:0")


def test_ends_of_an_interval_that_a_bound_cuts_have_columns_of_their_own(run: Path, tmp_path: Path) -> None:
    make(run, "csv", Wanted(), tmp_path / "out.csv")
    frame = pd.read_csv(tmp_path / "out.csv")
    cut = [name.partition("_low95")[0] for name in frame.columns if "_low95" in name]
    assert cut
    for key in cut:
        low, high = (
            frame[next(name for name in frame.columns if name.startswith(key + end))] for end in ("_low95", "_high95")
        )
        assert (low.dropna() <= high.dropna()).all()


def test_parquet_says_the_same_to_duckdb(run: Path, tmp_path: Path) -> None:
    make(run, "csv", Wanted(), tmp_path / "out.csv")
    make(run, "parquet", Wanted(), tmp_path / "out.parquet")
    frame = pd.read_csv(tmp_path / "out.csv")
    path = tmp_path / "out.parquet"
    asked = f"SELECT current_rms_a, current_rms_a_u95 FROM '{path}' WHERE current_rms_a_confidence = 'good'"
    good = frame[frame["current_rms_a_confidence"] == "good"]
    base = duckdb.connect()
    found = base.execute(asked).fetchall()
    assert len(found) == len(good) > 20
    assert [value for value, _ in found] == pytest.approx(good["current_rms_a [A]"].tolist(), rel=1e-8)
    words = base.execute(f"SELECT DISTINCT run_state FROM '{path}' WHERE run_state IS NOT NULL").fetchall()
    assert {"running", "stalled"} <= {word for (word,) in words}
    doubt = f"SELECT count(*) FROM '{path}' WHERE current_rms_a_confidence <> 'good' AND current_rms_a_reason IS NULL"
    assert base.execute(doubt).fetchall() == [(0,)]
    times = pd.read_parquet(path)["utc"]
    assert (pd.to_datetime(frame["utc"]) - times).abs().max() <= pd.Timedelta(1, "us")


def told(frame: pd.DataFrame, column: str) -> list[str]:
    return [text if isinstance(text, str) else "" for text in frame[column]]


def test_numpy_says_the_same_as_parquet(run: Path, tmp_path: Path) -> None:
    make(run, "parquet", Wanted(), tmp_path / "out.parquet")
    make(run, "npz", Wanted(), tmp_path / "out.npz")
    frame, made = pd.read_parquet(tmp_path / "out.parquet"), np.load(tmp_path / "out.npz")  # without Python's objects
    fields = pyarrow.parquet.read_schema(tmp_path / "out.parquet")
    names, words = made["names"].tolist(), made["word_names"].tolist()
    assert len(names) > 40
    assert made["values"].shape == made["u95"].shape == made["reason"].shape == (len(frame), len(names))
    for name, unit, values, halves, confidences, reasons in zip(
        names,
        made["units"],
        *(made[key].T for key in ("values", "u95", "confidence", "reason")),
        strict=True,
    ):
        assert unit == fields.field(name).metadata[b"unit"].decode()
        np.testing.assert_array_equal(values, frame[name])
        np.testing.assert_array_equal(halves, frame[f"{name}_u95"])
        assert made["confidences"][confidences].tolist() == told(frame, f"{name}_confidence")
        assert made["texts"][reasons].tolist() == told(frame, f"{name}_reason")
    cut = next(name.partition("_low95")[0] for name in frame.columns if "_low95" in name)
    np.testing.assert_array_equal(made["low95"][:, made["cut_names"].tolist().index(cut)], frame[f"{cut}_low95"])
    states = made["texts"][made["words"][:, words.index("run_state")]].tolist()
    assert states == told(frame, "run_state")
    assert {"running", "stalled"} <= set(states)


def test_of_more_reasons_than_are_kept_numpy_says_so(
    run: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(numpy_readings, "TEXTS_MAX", 3)
    make(run, "npz", Wanted(), tmp_path / "few.npz")
    made = np.load(tmp_path / "few.npz")
    assert made["texts"].tolist()[:2] == ["", numpy_readings.OTHER]
    assert made["texts"].size == 3
    assert numpy_readings.OTHER in set(made["texts"][made["reason"]].flat)


def test_chunks_and_columns_that_come_late_change_nothing(
    run: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    make(run, "csv", Wanted(), tmp_path / "one.csv")
    monkeypatch.setattr(gathering, "ROWS_MAX", 3)
    make(run, "csv", Wanted(), tmp_path / "many.csv")
    assert (tmp_path / "many.csv").read_bytes() == (tmp_path / "one.csv").read_bytes()
    make(run, "parquet", Wanted(), tmp_path / "many.parquet")
    assert len(pd.read_parquet(tmp_path / "many.parquet")) == len(pd.read_csv(tmp_path / "one.csv"))
    make(run, "npz", Wanted(), tmp_path / "many.npz")
    assert len(np.load(tmp_path / "many.npz")["values"]) == len(pd.read_csv(tmp_path / "one.csv"))


def test_a_span_of_readings_is_the_same_rows_as_of_the_whole(run: Path, tmp_path: Path) -> None:
    make(run, "csv", Wanted(), tmp_path / "whole.csv")
    make(run, "csv", Wanted(from_utc_s=OPENED_UTC_S + 3.0, to_utc_s=OPENED_UTC_S + 5.0), tmp_path / "span.csv")
    whole, span = pd.read_csv(tmp_path / "whole.csv"), pd.read_csv(tmp_path / "span.csv")
    inside = whole[(whole["utc"] >= "2026-11-25T14:02:03") & (whole["utc"] <= "2026-11-25T14:02:05.0")]
    assert len(span) == len(inside) > 8
    pd.testing.assert_frame_equal(span, inside[span.columns].reset_index(drop=True), check_dtype=False)


def test_a_disk_that_gets_full_while_the_file_is_written_ends_it_and_leaves_nothing(
    run: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    disk = [6 * 10**8, 10**10]  # 5 % of it are kept

    def gathered(*its: Any) -> Readings:
        found = gathering.readings_of(*its)
        disk[0] = 5 * 10**8 - 1
        return found

    monkeypatch.setattr("server.export.make.readings_of", gathered)
    monkeypatch.setattr("server.export.place.free_and_total", lambda folder: disk)
    with pytest.raises(ExportError, match=r"has less than 0\.5 GB left"):
        make(run, "csv", Wanted(), tmp_path / "out.csv")
    assert not list(tmp_path.iterdir())
