"""Waveforms of a run in every format, read by programs that are not ours."""

import csv
import json
import subprocess
from pathlib import Path

import duckdb
import numpy as np
import pandas as pd
import pyarrow.parquet as pq
import pytest
import soundfile

from server.export import ExportError, Wanted
from server.export.make import estimate, make
from server.runs.beside import write_digest
from server.runs.sum_up import summed_up
from tests.server.export.runs import OPENED_UTC_S, SHORT, run_of, sent
from tests.server.tiny_board import STORY

LOST = (range(2000, 2020), range(4000, 6500))  # 20 ms, and 2.5 s
WAVES = Wanted("waveforms")
LONG = ((24.0, 230.0, 0.5, 1400.0),)
VOLTS, AMPS = "=1+1", 'I "line", total'


@pytest.fixture(scope="module")
def run(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return run_of(tmp_path_factory.mktemp("runs"), lost=LOST)


@pytest.fixture(scope="module")
def long_run(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return run_of(tmp_path_factory.mktemp("runs"), LONG)


@pytest.fixture
def out(tmp_path: Path) -> Path:
    return tmp_path / "waves"


def kept() -> np.ndarray[tuple[int, ...], np.dtype[np.bool_]]:
    came = np.ones(9000, np.bool_)
    for each in LOST:
        came[each.start : each.stop] = False
    return came


def test_csv_has_the_samples_that_the_board_sent_and_each_gap(run: Path, out: Path) -> None:
    make(run, "csv", WAVES, out)
    with out.open(newline="", encoding="utf-8") as file:
        rows = list(csv.reader(file, strict=True))
    head, rows = rows[0], rows[1:]
    assert head == ["utc_s [s]", "time_s [s]", "'=1+1 [V]", 'I "line", total [A]', "missing", "clipped"]
    came = [row for row in rows if not row[4]]
    assert np.array([row[2:4] for row in came], float) == pytest.approx(sent()[kept()], abs=1e-6)
    assert [int(row[4]) for row in rows if row[4]] == [1] * 20 + [2500]
    assert all(row[2:4] == ["", ""] for row in rows if row[4])
    assert [float(row[1]) for row in came] == pytest.approx(np.arange(9000)[kept()] / 1000.0, abs=1e-6)
    assert float(rows[0][0]) == pytest.approx(OPENED_UTC_S, abs=0.02)
    assert out.read_bytes().count(b"\r\n") == len(rows) + 1


def test_parquet_is_read_by_pandas_and_duckdb_with_nulls_in_the_gaps_and_units_at_the_columns(
    run: Path, out: Path
) -> None:
    make(run, "parquet", WAVES, out)
    frame = pd.read_parquet(out)
    assert frame[[VOLTS, AMPS]].dropna().to_numpy() == pytest.approx(sent()[kept()], abs=1e-4)
    asked = f"SELECT sum(missing), count(*), count(\"{VOLTS}\") FROM read_parquet('{out}')"
    assert duckdb.connect().execute(asked).fetchall() == [(2520, 6501, 6480)]
    field = pq.read_schema(out).field(VOLTS)
    assert field.metadata[b"unit"] == b"V"
    about = json.loads(pq.read_schema(out).metadata[b"slipring"])
    assert (about["run"], about["rig"], about["rate_hz"]) == (run.name, "bench", 1000.0)


def test_numpy_reads_values_names_units_and_where_none_came(run: Path, out: Path) -> None:
    make(run, "npz", WAVES, out)
    with np.load(out) as file:
        there = {name: file[name] for name in file.files}
    assert there["values"].dtype == np.float32
    assert there["values"][there["missing"] == 0] == pytest.approx(sent()[kept()], abs=1e-4)
    assert np.isnan(there["values"][there["missing"] > 0]).all()
    assert there["missing"].sum() == 2520
    assert (there["names"].tolist(), there["units"].tolist()) == ([VOLTS, AMPS], ["V", "A"])
    assert float(there["rate_hz"]) == 1000.0
    utc_s = np.interp(there["time_s"], there["clock_time_s"], there["clock_utc_s"])
    assert utc_s == pytest.approx(OPENED_UTC_S + there["time_s"], abs=0.05)


def test_flac_gives_the_boards_own_codes_back_and_says_scale_unit_and_gaps(run: Path, out: Path) -> None:
    make(run, "flac", WAVES, out)
    with soundfile.SoundFile(out) as file:
        about, parts = json.loads(file.comment), file.read()
    channels = about["channels"]
    assert [(each["name"], each["unit"]) for each in channels] == [(VOLTS, "V"), (AMPS, "A")]
    assert [each["scale"] for each in channels] == pytest.approx([0.02, 2e-4])
    values = parts * [each["full_scale"] for each in channels] + [each["offset"] for each in channels]
    assert about["gaps"] == [[2000, 20, 20], [4000, 1, 2500]]
    gap = np.zeros(len(parts), np.bool_)
    gap[2000:2020] = gap[4000] = True
    assert values[~gap] == pytest.approx(sent()[kept()], abs=1e-9)
    assert (about["samples"], about["clipped_samples"]) == (6501, 0)


def test_the_reference_program_of_flac_decodes_it(run: Path, out: Path) -> None:
    make(run, "flac", WAVES, out)
    try:
        said = subprocess.run(["flac", "--test", "--silent", out], capture_output=True, text=True, check=False)
    except FileNotFoundError:
        pytest.skip("the program flac is not installed (Debian: flac)")
    assert (said.returncode, said.stderr) == (0, "")


def test_a_board_that_starts_anew_leaves_a_gap_by_the_clock(tmp_path: Path, out: Path) -> None:
    run = run_of(tmp_path / "runs", SHORT, starts=2)
    make(run, "npz", WAVES, out)
    with np.load(out) as file:
        values, missing, time_s = file["values"], file["missing"], file["time_s"]
    assert (missing > 0).sum() == 1
    assert missing.sum() == pytest.approx(2000, abs=20)
    assert values[missing == 0] == pytest.approx(np.concatenate([sent(SHORT), sent(SHORT)]), abs=1e-4)
    assert time_s[-1] == pytest.approx(3.999, abs=0.02)
    assert (np.diff(time_s) > 0).all()


def test_a_span_is_cut_to_the_sample_and_the_same_where_what_lies_before_is_jumped_over(
    long_run: Path, out: Path
) -> None:
    span = Wanted("waveforms", OPENED_UTC_S + 23.0, OPENED_UTC_S + 23.5)
    make(long_run, "npz", span, out)
    with np.load(out) as file:
        values, clock = file["values"], file["clock_utc_s"]
    assert len(values) in (499, 500, 501)  # both ends lie between two samples
    assert clock[0] >= OPENED_UTC_S + 23.0
    assert clock[-1] <= OPENED_UTC_S + 23.5
    whole = sent(LONG).astype(np.float32)
    (places,) = np.nonzero((whole[:-500] == values[0]).all(axis=1))
    assert any(np.array_equal(whole[place : place + len(values)], values) for place in places)
    write_digest(long_run, summed_up(long_run))
    make(long_run, "npz", span, out.with_name("jumped"))
    with np.load(out.with_name("jumped")) as file:
        assert np.array_equal(file["values"], values)


def test_how_large_it_will_be_is_known_before_and_right_within_a_fifth(long_run: Path, out: Path) -> None:
    for key in ("csv", "npz"):
        told = estimate(long_run, key, WAVES)
        assert told.bytes == pytest.approx(make(long_run, key, WAVES, out.with_suffix(f".{key}")), rel=0.2)
        assert not told.whole


def test_it_is_told_too_where_no_samples_came_in_the_middle(tmp_path: Path, out: Path) -> None:
    run = run_of(tmp_path / "runs", LONG, lost=(range(7000, 17000),))
    write_digest(run, summed_up(run))
    told, size = estimate(run, "npz", WAVES).bytes, make(run, "npz", WAVES, out)
    assert size <= told < 2 * size, "of the gap it knows nothing"


def test_nothing_is_written_over_and_what_fails_leaves_nothing(run: Path, out: Path) -> None:
    out.write_text("mine")
    with pytest.raises(ExportError, match="is there already"):
        make(run, "npz", WAVES, out)
    assert out.read_text() == "mine"
    before = sorted(out.parent.iterdir())
    for wanted in (Wanted("waveforms", OPENED_UTC_S + 900.0), Wanted("waveforms", group=7)):
        with pytest.raises(ExportError, match="in this span"):
            make(run, "npz", wanted, out.with_name("other"))
    with pytest.raises(ExportError, match="there is no format"):
        make(run, "ods", WAVES, out.with_name("other"))
    with pytest.raises(ExportError, match="holds waveforms only"):
        make(run, "flac", Wanted("readings"), out.with_name("other"))
    assert sorted(out.parent.iterdir()) == before


def test_clipped_samples_are_marked_in_their_channel(tmp_path: Path, out: Path) -> None:
    run = run_of(tmp_path / "runs", ((0.5, 600.0, 0.5, 1400.0),))
    make(run, "csv", WAVES, out)
    rows = pd.read_csv(out)
    clipped = rows[rows["clipped"].notna()]
    assert len(clipped) > 20
    assert set(clipped["clipped"]) == {"'=1+1"}
    assert (clipped["'=1+1 [V]"].abs() >= 639.9).all()  # 32 000 codes of 0.02 V


def test_progress_rises_to_the_whole(run: Path, out: Path) -> None:
    told: list[float] = []
    make(run, "csv", WAVES, out, told.append)
    assert told == sorted(told)
    assert told[-1] == pytest.approx(1.0, abs=0.25)  # the run ends two seconds behind its last sample
    assert len(STORY) > 1


@pytest.mark.parametrize("key", ["npz", "flac"])
def test_how_far_it_is_only_grows_and_does_not_arrive_before_the_end(long_run: Path, out: Path, key: str) -> None:
    told: list[float] = []
    make(long_run, key, WAVES, out, told.append)
    assert told == sorted(told)
    assert 0.4 < told[len(told) // 2] < 0.6, "half of what is read is half of the way"
    assert told[-1] > 0.9
