"""A closed segment is packed and all that reads runs gets the same from it; whenever packing ends, the run is whole."""

import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from server.runs.beside import size_of
from server.runs.jump import entries_at
from server.runs.layout import Entry, Numbered
from server.runs.library import summary_of
from server.runs.pack import main, pack_segment
from server.runs.packed_file import PackedFile
from server.runs.packing.whole import BLOCK_S
from server.runs.replay import recorded
from server.runs.segments import begins_utc_s, entries, last_entry, next_number, plain_bytes, segments
from server.runs.sum_up import summed_up
from tests.server.runs.recordings import OPENED_UTC_S, rewritten, segment_bytes

SECONDS = 17.0
AT_UTC_S = OPENED_UTC_S + 15.0


@pytest.fixture(scope="module")
def written() -> bytes:
    """A plain segment."""
    return segment_bytes(SECONDS)


@pytest.fixture
def plain(tmp_path: Path, written: bytes) -> Path:
    """It in a run of its own."""
    path = tmp_path / "20261125-1402-bench" / "0001.run"
    path.parent.mkdir()
    path.write_bytes(written)
    return path


def packed(plain: Path) -> Path:
    pack_segment(plain)
    return plain.with_name("0001.packed")


def numbered(path: Path) -> list[tuple[int, Entry, int]]:
    """All of its entries; fails where something cannot be read."""
    found = []
    for each in entries(path):
        assert isinstance(each, Numbered)
        found.append((each.number, each.entry, each.offset))
    return found


def said(run: Path) -> list[Entry | str]:
    """All of a run, whichever of the files it was read from."""
    return [each.replace(".packed", ".run") if isinstance(each, str) else each for each in recorded(run)]


def test_every_reader_gets_from_the_packed_segment_what_the_plain_one_said(plain: Path) -> None:
    run = plain.parent

    def read() -> list[object]:
        (path,) = segments(run)
        digest = summed_up(run)
        jumped = list(entries_at(run, digest, AT_UTC_S) or ())
        return [
            numbered(path),
            list(recorded(run)),
            (summary_of(run), last_entry(run), begins_utc_s(path), next_number(run)),
            (size_of(run), plain_bytes(path), digest),
            jumped,
        ]

    before, length = read(), plain.stat().st_size
    assert packed(plain).stat().st_size < 0.2 * length
    assert [path.name for path in run.iterdir()] == ["0001.packed"]
    assert read() == before


def test_a_reader_that_learned_the_name_before_it_was_packed_still_reads_it(plain: Path) -> None:
    before = numbered(plain)
    packed(plain)
    assert numbered(plain) == before
    assert plain_bytes(plain) > 100_000


def test_a_jump_unpacks_only_the_blocks_behind_the_place(plain: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    digest, unpacked = summed_up(plain.parent), list[int]()
    its = packed(plain)

    def counted(file: PackedFile, offset: int) -> Numbered | None:
        unpacked.append(offset)
        return at(file, offset)

    at = PackedFile._at
    monkeypatch.setattr(PackedFile, "_at", counted)
    jumped = entries_at(plain.parent, digest, AT_UTC_S)
    assert jumped is not None
    got = [each for each in jumped if isinstance(each, Entry)]
    assert got[2].utc_s == pytest.approx(AT_UTC_S - 10.0, abs=0.11)
    with its.open("rb") as file:
        index = PackedFile(file).index
    assert index is not None
    assert len(unpacked) == sum(place.utc_s > AT_UTC_S - 10.0 - BLOCK_S for place in index.places)
    assert len(index.places) == 4


def test_a_flipped_bit_costs_one_block_and_its_second_is_told(plain: Path) -> None:
    whole, its = numbered(plain), packed(plain)
    data = its.read_bytes()
    for at in range(100, len(data), 4096):
        broken = bytearray(data)
        broken[at] ^= 0x10
        its.write_bytes(broken)
        said = list(recorded(plain.parent))
        there = [each for each in said if isinstance(each, Entry)]
        lost = [each for each in whole if each[1] not in there and each[0] + 1]
        times = [each[1].utc_s for each in lost if each[1].utc_s]
        assert len(times) == len(whole) - len(there) - 1 or times == []
        if times:
            assert max(times) - min(times) <= BLOCK_S + 0.1
            told = [each for each in said if isinstance(each, str)]
            assert "hold no record" in told[0]
            assert min(times) < OPENED_UTC_S + 5.0 or ", behind 2026-11-25 14:02:" in told[0]


@pytest.mark.parametrize("cut", [1, 12, 13, 100, 5000, 20_000])
def test_where_its_end_is_cut_off_the_blocks_before_are_read_and_that_something_is_missing_is_told(
    plain: Path, cut: int
) -> None:
    whole, its = [each[1] for each in numbered(plain)][1:], packed(plain)
    its.write_bytes(its.read_bytes()[:-cut])
    *there, last = recorded(plain.parent)
    assert there == whole[: len(there)]
    assert isinstance(last, str)
    assert "cannot be read" in last
    assert len(there) > 150 or cut > 5000
    assert summary_of(plain.parent).rig == "bench"


def test_packing_what_is_damaged_keeps_the_damage_byte_for_byte(plain: Path) -> None:
    data = bytearray(plain.read_bytes())
    data[50_000] ^= 1
    data[70_000:75_000] = bytes(5000)
    plain.write_bytes(data + b"\xf0SLR cut off")
    before = said(plain.parent)
    assert sum(isinstance(each, str) for each in before) == 5
    its = packed(plain)
    assert said(plain.parent) == before
    with its.open("rb") as file:
        assert b"".join(_bytes(PackedFile(file).plain())) == data + b"\xf0SLR cut off"


def _bytes(pieces: Iterator[object]) -> Iterator[bytes]:
    for piece in pieces:
        assert isinstance(piece, bytes)
        yield piece


def test_clocks_that_stepped_back_lose_nothing(plain: Path) -> None:
    rewritten(plain, lambda entry: entry.utc_s - 3600.0 if entry.utc_s > OPENED_UTC_S + 8.0 else entry.utc_s)
    before = numbered(plain)
    packed(plain)
    assert numbered(plain) == before


def test_a_packed_segment_that_was_damaged_before_the_plain_one_was_removed_is_set_aside(
    plain: Path, written: bytes
) -> None:
    its = packed(plain)
    plain.write_bytes(written)
    damaged = bytearray(its.read_bytes())
    damaged[999] ^= 4
    its.write_bytes(damaged)
    pack_segment(plain)
    assert sorted(path.name for path in plain.parent.iterdir()) == ["0001.damaged-1", "0001.packed"]
    assert (plain.parent / "0001.damaged-1").read_bytes() == damaged
    assert len(numbered(its)) > 300


def test_what_would_not_come_back_as_it_was_is_only_deflated(
    plain: Path, written: bytes, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("server.runs.packing.block.unpack_wire", lambda of, flacs: b"wrong")
    its = packed(plain)
    assert len(numbered(its)) > 300
    assert its.stat().st_size > 0.3 * len(written)


def test_the_program_packs_all_but_the_last_segment_of_a_run_that_is_open(
    plain: Path, written: bytes, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr("server.runs.pack.begin_quietly", lambda: None)
    run = plain.parent
    for name in ("0002.run", "0003.run"):
        (run / name).write_bytes(written)
    (run / "0004.run").write_bytes(b"")
    assert main([str(run)]) == 0
    assert sorted(path.name for path in run.iterdir()) == ["0001.packed", "0002.packed", "0003.packed", "0004.run"]
    assert main([str(run), "--all"]) == 0
    assert (run / "0004.run").exists()
    assert main([str(run / "not there")]) == 1
    assert capsys.readouterr().err == "No such file or directory\n"


def test_the_program_ends_with_whoever_started_it(plain: Path) -> None:
    (plain.parent / "0002.run").mkdir()
    command = [sys.executable, "-m", "server.runs.pack", str(plain.parent), "--all"]
    child = subprocess.Popen(command, stdin=subprocess.PIPE)
    assert child.stdin is not None
    child.stdin.close()
    begun_s = time.monotonic()
    assert child.wait(20) in (0, 1)
    assert time.monotonic() - begun_s < 20
    assert len(list(recorded(plain.parent))) > 300
