"""A thinned segment keeps what the plan says, the rest is a gap with its reason, and no kill leaves a broken run."""

import os
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import pytest

from server.readings import Confidence
from server.runs.account import Account
from server.runs.beside import read_digest, size_of, write_digest
from server.runs.jump import entries_at
from server.runs.layout import Entry, Kind, record
from server.runs.library import Library, summary_of
from server.runs.log.reading import LogError
from server.runs.log.store import LOG, Store
from server.runs.pack import pack_segment
from server.runs.packing.thinning import Needed
from server.runs.replay import Replay, recorded
from server.runs.segments import last_entry, next_number
from server.runs.space import Plan
from server.runs.sum_up import summed_up
from server.runs.thin import account_again, main, spans_of, thin, thin_segment
from server.runs.thinned_run import ACCOUNT_DUE, thinned_stretches, thinned_words
from tests.server.runs.recordings import OPENED_UTC_S, recorded_run, segment_bytes, segment_of
from tests.server.runs.test_pack_faults import StoppedDisk
from tests.server.tiny_board import TinyBoard

SECONDS = 27.0
KEPT = [(OPENED_UTC_S + 12.0, OPENED_UTC_S + 13.0)]
WORDS = Plan(30.0, 60.0).words
NOW_UTC_S = OPENED_UTC_S + 1000.0


@pytest.fixture(scope="module")
def packed_bytes(tmp_path_factory: pytest.TempPathFactory) -> bytes:
    """A packed segment of six blocks."""
    plain = tmp_path_factory.mktemp("made") / "0001.run"
    plain.write_bytes(segment_bytes(SECONDS))
    pack_segment(plain)
    return plain.with_name("0001.packed").read_bytes()


@pytest.fixture
def its(tmp_path: Path, packed_bytes: bytes) -> Path:
    """It in a run of its own."""
    path = tmp_path / "20261125-1402-bench" / "0001.packed"
    path.parent.mkdir()
    path.write_bytes(packed_bytes)
    return path


def said(run: Path) -> list[Entry]:
    """All of a run; fails where something cannot be read."""
    there = list(recorded(run))
    assert all(isinstance(each, Entry) for each in there), there
    return [each for each in there if isinstance(each, Entry)]


def test_what_lies_in_the_plan_and_what_is_no_chunk_is_kept_and_the_rest_is_a_gap_with_its_reason(its: Path) -> None:
    run = its.parent
    before, known, length = (
        said(run),
        (summary_of(run), last_entry(run), next_number(run), size_of(run)),
        len(its.read_bytes()),
    )
    freed = thin_segment(its, KEPT, WORDS, NOW_UTC_S)
    after = said(run)
    assert freed == length - its.stat().st_size > 0.3 * length
    assert (summary_of(run), last_entry(run), next_number(run), size_of(run)) == known
    marks = [each for each in after if each.kind is Kind.MARK]
    kept = [each for each in after if each.kind is not Kind.MARK]
    assert kept == [each for each in before if each in kept]
    assert [each for each in before if each.kind is not Kind.CHUNK] == [
        each for each in kept if each.kind is not Kind.CHUNK
    ]
    near = [each for each in before if KEPT[0][0] <= each.utc_s <= KEPT[0][1]]
    assert len(near) > 15
    assert set(near) <= set(kept)
    assert [each.text[:56] for each in marks] == ["Raw samples were thinned by the plan: 2026-11-25 14:02:0"] * 1 + [
        "Raw samples were thinned by the plan: 2026-11-25 14:02:1"
    ]
    assert [path.name for path in run.iterdir()] == ["0001.packed"]
    assert f"Raw samples of 0 min were thinned by the plan of {WORDS}." == thinned_words(run)


def test_thinned_once_more_it_gives_up_nothing_and_by_a_smaller_plan_no_block_is_lost_unsaid(its: Path) -> None:
    thin_segment(its, KEPT, WORDS, NOW_UTC_S)
    once = its.read_bytes()
    assert thin_segment(its, KEPT, WORDS, NOW_UTC_S) == 0
    assert its.read_bytes() == once
    assert thin_segment(its, [], WORDS, NOW_UTC_S) > 0
    lengths = [each.length for each in thinned_stretches(its.parent)]
    assert len(lengths) == 3  # those of before, and what lay between them
    said(its.parent)


def account_of(run: Path) -> list[dict[str, object]]:
    account = Account()
    for each in said(run):
        account.take(each)
    return account.record()


def test_the_account_says_how_many_were_thinned_and_its_sum_is_exact(its: Path) -> None:
    before = {line["what"]: line for line in account_of(its.parent)}
    thin_segment(its, KEPT, WORDS, NOW_UTC_S)
    after = {line["what"]: line for line in account_of(its.parent)}
    assert after.keys() == before.keys()
    for what, line in after.items():
        assert line["exact"]
        assert line["promised"] == before[what]["promised"]
        missing = line["missing"]
        assert isinstance(missing, dict)
        assert missing == {"thinned by the plan": before[what]["stored"] - line["stored"]}  # type: ignore[operator]


def test_a_jump_into_what_was_given_up_goes_on_behind_it_and_says_why(its: Path) -> None:
    digest = summed_up(its.parent)
    thin_segment(its, KEPT, WORDS, NOW_UTC_S)
    jumped = entries_at(its.parent, digest, OPENED_UTC_S + 21.0)
    assert jumped is not None
    found = [each for each in jumped if isinstance(each, Entry)]
    (mark,) = (each for each in found if each.kind is Kind.MARK)
    assert mark.text.startswith("Raw samples were thinned by the plan")
    assert found[-1].kind is Kind.CLOSE


def currents(run: Path) -> dict[int, object]:
    """By the tick of its instant, of a replay from the beginning."""
    parts = (part for each in Replay(run) if each.output is not None for part in each.output.parts)
    instants = (instant for part in parts for instant in part.instants)
    return {
        each.tick: (reading.value, reading.confidence)
        for each in instants
        for reading in each.readings
        if reading.key == "current_rms_a"
    }


def test_readings_of_what_is_kept_are_played_as_before_and_none_is_made_up_of_what_was_given_up(its: Path) -> None:
    before = currents(its.parent)
    thin_segment(its, KEPT, WORDS, NOW_UTC_S)
    after = currents(its.parent)
    same = [tick for tick, said in after.items() if before.get(tick) == said and said[0] is not None]  # type: ignore[index]
    assert 30 < len(same) < 0.8 * len(before)
    others = [said for tick, said in after.items() if tick not in same]
    assert all(said[1] is not Confidence.GOOD for said in others)  # type: ignore[index]


def test_blocks_in_which_the_board_says_anew_what_it_is_are_needed_with_the_one_before() -> None:
    board = TinyBoard()
    wire = board.wire(((1.0, 230.0, 0.5, 1400.0),))

    def block(number: int, data: bytes) -> bytes:
        return record(number, Entry(Kind.CHUNK, OPENED_UTC_S, data))

    needed, half = Needed(), len(wire) // 2
    assert needed.take(block(0, wire[:half])) == (True, True)
    assert needed.take(block(1, wire[half:])) == (False, False)
    assert needed.take(block(2, wire)) == (False, False)  # said again: nothing new
    other = replace(board, serial="another").wire(((1.0, 230.0, 0.5, 1400.0),))
    assert needed.take(block(3, other)) == (True, True)
    assert needed.take(record(4, Entry(Kind.MARK, OPENED_UTC_S, b"noted"))) == (True, False)


def test_a_damaged_segment_is_left_as_it_is(its: Path) -> None:
    data = bytearray(its.read_bytes())
    data[len(data) // 2] ^= 1
    its.write_bytes(data)
    with pytest.raises(OSError, match="left as it is"):
        thin_segment(its, KEPT, WORDS, NOW_UTC_S)
    assert its.read_bytes() == data


@pytest.mark.long
def test_whichever_operation_fails_the_run_is_as_it_was_or_thinned(its: Path, packed_bytes: bytes) -> None:
    error, disk, run = OSError(28, "No space left on device"), StoppedDisk(0, OSError()), its.parent
    before = said(run)
    thin_segment(its, KEPT, WORDS, NOW_UTC_S, disk)
    after = said(run)
    assert disk.count >= 10
    for number in range(1, disk.count + 1):
        its.write_bytes(packed_bytes)
        with pytest.raises(OSError, match="No space left"):
            thin_segment(its, KEPT, WORDS, NOW_UTC_S, StoppedDisk(number, error))
        assert said(run) == (after if number == disk.count else before), number  # the last is the folder's sync
        assert [path.name for path in run.iterdir()] == ["0001.packed"]


KILLED_AT = """
import os, sys
from pathlib import Path
from tests.server.runs.test_pack_faults import StoppedDisk
from tests.server.runs.test_thin import KEPT, NOW_UTC_S, WORDS
from server.runs.thin import thin_segment
class Killed(StoppedDisk):
    def stop(self):
        os.kill(os.getpid(), 9)
for number, folder in enumerate(sorted(Path(sys.argv[1]).iterdir()), 1):
    if os.fork() == 0:
        thin_segment(folder / "0001.packed", KEPT, WORDS, NOW_UTC_S, Killed(number, OSError()))
        os._exit(0)
    os.wait()
"""


@pytest.mark.long
def test_a_kill_at_each_step_leaves_a_run_that_is_read_and_thinned_by_the_next(
    tmp_path: Path, packed_bytes: bytes
) -> None:
    runs = [tmp_path / f"20261125-14{number:02d}-bench" for number in range(1, 15)]
    for run in runs:
        run.mkdir()
        (run / "0001.packed").write_bytes(packed_bytes)
    before = said(runs[0])
    subprocess.run([sys.executable, "-c", KILLED_AT, str(tmp_path)], check=True, timeout=60)
    left = set()
    for run in runs:
        left.add(tuple(sorted(path.name for path in run.iterdir())))
        found = said(run)
        assert found == before or any(each.kind is Kind.MARK for each in found)
        thin_segment(run / "0001.packed", KEPT, WORDS, NOW_UTC_S)
        assert [path.name for path in run.iterdir()] == ["0001.packed"]
        assert len([each for each in said(run) if each.kind is Kind.MARK]) == 2
    assert left == {("0001.packed",), ("0001.packed", "0001.thinning")}


@pytest.mark.long
def test_a_run_keeps_all_around_what_its_log_and_its_alarms_tell_and_its_account_is_made_again(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    library = Library(tmp_path)
    run = library.folder / recorded_run(library, story=((1.0, 230.0, 0.0, 0.0), (24.0, 230.0, 0.5, 1400.0)))
    pack_segment(segment_of(library, run.name))
    plan, refused = Plan(0.5, 1.0), list[str]()
    with pytest.raises(LogError, match="not summed up yet"):
        thin(run, plan, ["0001.packed"], NOW_UTC_S, refused.append)
    digest = summed_up(run)
    write_digest(run, digest)
    kept = read_digest(run) or {}
    events = [each["utc_s"] for each in digest["events"]]
    spans = spans_of(run, plan, OPENED_UTC_S)
    assert events
    assert all(any(begin <= at_s <= end for begin, end in spans) for at_s in events)
    monkeypatch.setattr("server.runs.thin.begin_quietly", lambda: None)
    assert main([str(run), "0.5", "1", "0001.packed"]) == 0
    now = read_digest(run)
    assert now is not None
    assert list(thinned_stretches(run))
    assert {**now, "account": None} == {**kept, "account": None} != now
    assert all(line["exact"] for line in now["account"])
    assert not refused
    assert not (run / ACCOUNT_DUE).exists()
    assert [each["utc_s"] for each in summed_up(run)["events"]] == events


def test_a_run_whose_log_does_not_know_all_of_it_keeps_its_samples(its: Path) -> None:
    write_digest(its.parent, summed_up(its.parent))
    data = its.read_bytes()
    with pytest.raises(LogError, match="no log"):
        thin(its.parent, Plan(1.0, 1.0), ["0001.packed"], NOW_UTC_S, str)
    assert its.read_bytes() == data
    account_again(its.parent)
    assert os.listdir(its.parent).count("digest.json") == 1


def test_events_are_kept_however_many_there_are_and_none_may_follow_so_soon_that_what_came_before_is_gone(
    its: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("server.runs.log.reading.TOLD_MAX", 2)
    plan, store = Plan(1.0, 1.0), Store(its.parent / LOG)
    moments = [OPENED_UTC_S + 100.0 * k for k in range(1, 6)]
    events = [(k, at_s, 0.0, "start", "{}") for k, at_s in enumerate(moments)]
    store.write({"events": events, "instants": [(0, OPENED_UTC_S + 600.0, 0.0, 0, 1, 0.2, 0, b"")]}, {})
    store.close()
    spans = spans_of(its.parent, plan, OPENED_UTC_S + 584.0)
    assert all(any(begin <= at_s <= end for begin, end in spans) for at_s in moments)
    with pytest.raises(LogError, match="does not know all"):
        spans_of(its.parent, plan, OPENED_UTC_S + 584.5)
    store = Store(its.parent / LOG)
    store.write({}, {"incomplete": "the service ended", "missing": f"[[{OPENED_UTC_S + 50.0}, {OPENED_UTC_S + 60.0}]]"})
    store.close()
    unknown = OPENED_UTC_S + 50.0 - 16.0, OPENED_UTC_S + 60.0 + 18.0  # 1 s around, 15 s late, 2 s to arrive
    assert spans_of(its.parent, plan, OPENED_UTC_S + 584.0) == sorted([*spans, unknown])
