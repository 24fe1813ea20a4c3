"""What befalls disks, clocks and processes, made for real where it can be: nothing but the last second is lost."""

import os
import subprocess
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from server.runs.digest import Digest
from server.runs.layout import Entry, Kind
from server.runs.library import Library
from server.runs.replay import recorded
from server.runs.segments import open_segment
from server.runs.space import FREE_SHARE_MIN
from server.runs.writer import RETRY_S_MAX, Writer
from server.whole_file import free_and_total
from tests.server.runs.damaged_files import cut_anywhere, flipped_everywhere
from tests.server.runs.killed import killed, lost_s
from tests.server.runs.power import cut_and_continued
from tests.server.runs.recordings import segment_bytes
from tests.server.runs.test_writer import CLOSE, OPEN, PLENTY, STORY, chunk

LOST_S_MAX = 1.0


@pytest.mark.parametrize("seed", range(40))
def test_a_power_cut_costs_the_last_second_whatever_sectors_the_disk_kept(tmp_path: Path, seed: int) -> None:
    cut_and_continued(tmp_path / "runs", seed)


@pytest.mark.alone
def test_twenty_kills_at_random_moments_cost_at_most_a_second_each_and_each_run_goes_on(tmp_path: Path) -> None:
    them = killed(tmp_path, 20, seed=1)
    assert len(them) == 20
    assert max(map(lost_s, them)) <= LOST_S_MAX


def test_a_segment_cut_at_any_length_gives_what_stands_before_plain_and_packed(tmp_path: Path) -> None:
    plain = segment_bytes(1.0)
    assert cut_anywhere(tmp_path / "20261125-1402-bench", plain, every=97) == 0


def test_a_bit_flipped_in_each_4_kb_costs_a_record_or_a_block_and_is_told(tmp_path: Path) -> None:
    worst = flipped_everywhere(tmp_path / "20261125-1402-bench", segment_bytes(12.0), seed=1)
    assert worst["plain"] <= 2
    assert 20 <= worst["packed"] <= 5.2 / 0.05


@pytest.fixture
def small_disk(tmp_path: Path) -> Iterator[Path]:
    """Four megabytes of a disk of its own."""
    folder = tmp_path / "disk"
    folder.mkdir()
    mounted = (
        os.geteuid() == 0
        and not subprocess.run(
            ["mount", "-t", "tmpfs", "-o", "size=4m", "tmpfs", str(folder)], check=False, capture_output=True
        ).returncode
    )
    if not mounted:
        pytest.skip("only root may mount a small disk")
    yield folder
    subprocess.run(["umount", str(folder)], check=True)


@pytest.mark.parametrize("looked_after", [True, False], ids=["before the last of it", "when it is full"])
def test_a_disk_that_is_full_for_real_stops_recording_which_goes_on_within_5_s_of_space(
    small_disk: Path, looked_after: bool
) -> None:
    library, now_s = Library(small_disk / "runs"), 100.0
    writer = Writer(library, "bench", open_segment, free_and_total if looked_after else lambda _: PLENTY)
    story = [OPEN, *(Entry(Kind.CHUNK, OPEN.utc_s + k, bytes([k]) * 200_000) for k in range(12))]
    writer.step([OPEN], now_s)
    (small_disk / "other").write_bytes(bytes(3_000_000))
    for entry in story[1:]:
        now_s += 2.1
        writer.step([entry], now_s)
    assert writer.writing.state == "failed"
    left, total = free_and_total(small_disk)
    if looked_after:
        assert "MB are free on the disk" in writer.writing.reason
        assert left > FREE_SHARE_MIN * total / 2
        assert writer.writing.free_bytes == pytest.approx(left, abs=0.05 * total)
    else:
        assert writer.writing.reason == "No space left on device"
    (small_disk / "other").unlink()
    writer.step([], now_s + RETRY_S_MAX)
    writer.step([CLOSE], now_s + RETRY_S_MAX + 0.1)
    assert writer.writing.state == "closed"
    (name,) = (run.name for run in library.runs())
    assert [each for each in recorded(small_disk / "runs" / name) if isinstance(each, Entry)] == [*story, CLOSE]
    library.close()


def test_a_service_whose_clock_stands_an_hour_back_goes_on_with_the_run(tmp_path: Path) -> None:
    library = Library(tmp_path)
    writer = Writer(library, "bench", open_segment, lambda _: PLENTY)
    writer.step(STORY[:-1], 100.0)
    writer.finish(101.0)
    later = [replace(chunk(k), utc_s=chunk(k).utc_s - 3600.0) for k in range(20, 30)]
    name = library.runs()[0].name
    writer = Writer(library, "bench", open_segment, lambda _: PLENTY, name)
    writer.step(later, 7.0)
    assert writer.writing.gaps_s == 0.0
    writer.step([replace(CLOSE, utc_s=later[-1].utc_s)], 8.0)
    assert list(recorded(tmp_path / name))[:-1] == [*STORY[:-1], *later]
    digest = Digest()
    for entry in recorded(tmp_path / name):
        assert isinstance(entry, Entry)
        digest.take(entry, None, None)
    assert digest.record()["gaps"] == []
    assert library.runs()[0].closed_utc_s == later[-1].utc_s
    library.close()
