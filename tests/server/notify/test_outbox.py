import os
import subprocess
import sys
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from server.notify import boxes as module
from server.notify.boxes import Boxes
from server.notify.draft import Draft, Rank, Word, of_notice
from server.notify.outbox import Outbox, OutboxError
from tests.server.notify.notices import notice

DAY_S = 86_400.0


def draft(rank: Rank = Rank.ALARM, title: str = "Switch off") -> Draft:
    return Draft("raised", rank, 0.0, title)


def filled(path: Path | None, count: int = 3, **limits: float) -> Outbox:
    box = Outbox(path, **limits)  # type: ignore[arg-type]
    box.keep_for({"a": False, "b": False})
    for number in range(count):
        box.add([Word(draft(title=f"event {number + 1}"))], float(number))
    return box


def titles(box: Outbox, receiver: str = "a") -> list[str]:
    return [str(entry.record["title"]) for entry in box.waiting(receiver, 1000)]


def test_an_entry_stays_for_each_receiver_until_that_one_has_it() -> None:
    box = filled(None)
    box.has("a", 2, 0.0)
    assert titles(box) == ["event 3"]
    assert titles(box, "b") == ["event 1", "event 2", "event 3"]
    assert [(entry.number, entry.after) for entry in box.waiting("a", 5)] == [(3, 2)]
    assert [(entry.number, entry.after) for entry in box.waiting("b", 2)] == [(1, 0), (2, 1)]


def test_a_number_is_never_given_again(tmp_path: Path) -> None:
    box = filled(tmp_path / "outbox.db")
    for name in "ab":
        box.has(name, 3, 0.0)
    box.close()
    again = Outbox(tmp_path / "outbox.db")
    again.add([Word(draft())], 0.0)
    assert [entry.number for entry in again.waiting("a", 5)] == [4]
    assert again.origin == box.origin


def test_each_of_several_drafts_goes_to_those_who_are_meant() -> None:
    box = Outbox(None)
    box.keep_for({"a": False, "b": False})
    box.add([Word(draft(title="both")), Word(draft(title="b alone"), ("b",)), Word(draft(title="nobody"), ())], 0.0)
    assert titles(box) == ["both"]
    assert titles(box, "b") == ["both", "b alone"]


def test_where_there_is_no_room_the_oldest_of_the_lowest_rank_go_first_and_that_is_told() -> None:
    box = Outbox(None, bytes_max=4 * 400)
    box.keep_for({"a": False})
    ranks = [Rank.ALARM, Rank.INFORMATION, Rank.CAUTION, Rank.INFORMATION, Rank.CAUTION, Rank.ALARM, Rank.ALARM]
    for number, rank in enumerate(ranks):
        box.add([Word(draft(rank, f"{rank.name} {number}"))], float(number))
    assert titles(box) == ["ALARM 0", "CAUTION 4", "ALARM 5", "ALARM 6"]
    assert box.queue("a").dropped == 3
    box.has("a", 1, 9.0)
    told = titles(box)[-1]
    span = "from 1970-01-01 00:00:01 UTC to 1970-01-01 00:00:03 UTC"
    assert told == f"3 messages {span} not sent: no room was left, too old, or refused"
    assert box.queue("a").dropped == 0


def test_of_what_has_waited_for_a_week_only_alarms_are_kept() -> None:
    box = Outbox(None)
    box.keep_for({"a": False})
    for rank in Rank:
        box.add([Word(draft(rank, rank.name))], 0.0)
    box.tend(7 * DAY_S - 1)
    assert len(titles(box)) == 3
    box.tend(7 * DAY_S + 1)
    assert titles(box) == ["ALARM"]


def test_what_waits_for_a_receiver_that_was_taken_out_of_the_settings_is_given_up() -> None:
    box = filled(None)
    box.has("b", 3, 0.0)
    box.keep_for({"b": False, "c": False})
    assert titles(box) == []
    box.add([Word(draft(title="new"))], 0.0)
    assert titles(box, "c") == titles(box, "b") == ["new"]


def test_an_old_copy_of_an_outbox_counts_as_another_one() -> None:
    box = filled(None)
    before = box.origin
    assert not box.was_set_back(3)
    assert box.was_set_back(4)
    assert box.origin != before
    assert box.waiting("a", 1)[0].after == 0


@settings(max_examples=40)
@given(st.lists(st.tuples(st.sampled_from("ab"), st.integers(0, 40)), max_size=20), st.integers(1, 12))
def test_whatever_receivers_say_that_they_have_the_rest_waits_in_order(has: list[tuple[str, int]], count: int) -> None:
    box = filled(None, count)
    lowest = {"a": 0, "b": 0}
    for name, number in has:
        box.has(name, number, 0.0)
        lowest[name] = max(lowest[name], number)
    for name in "ab":
        assert titles(box, name) == [f"event {number + 1}" for number in range(lowest[name], count)]
    box.keep_for({})
    assert box._bytes == 0


def test_a_kill_at_any_moment_loses_nothing_that_was_kept(tmp_path: Path) -> None:
    program = (
        "import os, sys; from pathlib import Path; from tests.server.notify.test_outbox import Word, draft;"
        "from server.notify.outbox import Outbox; box = Outbox(Path(sys.argv[1])); box.keep_for({'a': 0})\n"
        "while True: box.add([Word(draft())], 0.0); os.write(1, b'.')"
    )
    path = tmp_path / "outbox.db"
    process = subprocess.Popen([sys.executable, "-c", program, str(path)], stdout=subprocess.PIPE)
    assert process.stdout
    kept = len(process.stdout.read(40))
    process.kill()
    kept += len(process.stdout.read())
    process.wait(5)
    process.stdout.close()
    assert [entry.number for entry in Outbox(path).waiting("a", 10_000)][:kept] == list(range(1, kept + 1))


def test_a_damaged_outbox_is_set_aside_and_kept(tmp_path: Path) -> None:
    (tmp_path / "outbox.db").write_bytes(b"no database at all " * 500)
    boxes = Boxes(tmp_path / "outbox.db")
    boxes.keep_for({"a": False})
    boxes.add([Word(of_notice(notice()))], 0.0)
    assert boxes.trouble == ""
    assert boxes.next("a", 5, {})[1][0].record["act"] == "Switch off"
    (aside,) = tmp_path.glob("outbox.db.damaged-*")
    assert aside.read_bytes().startswith(b"no database")
    boxes.close()
    assert Outbox(tmp_path / "outbox.db").waiting("a", 5)


def test_the_outbox_is_for_its_owner_only(tmp_path: Path) -> None:
    filled(tmp_path / "outbox.db")
    assert os.stat(tmp_path / "outbox.db").st_mode & 0o777 == 0o600


@pytest.mark.parametrize("place", ["no-such-folder/outbox.db", "a-folder"])
def test_without_a_disk_messages_wait_in_memory_and_that_is_said_until_there_is_one(
    tmp_path: Path, place: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "a-folder").mkdir()
    boxes = Boxes(tmp_path / place)
    boxes.keep_for({"a": False})
    boxes.add([Word(draft())], 0.0)
    assert f"{place} cannot be used (unable to open database file)" in boxes.trouble
    assert boxes.queue("a").count == 1
    if place == "a-folder":
        (tmp_path / place).rmdir()
    else:
        (tmp_path / place).parent.mkdir()
    boxes.tend(0.0)
    assert not (tmp_path / place).exists(), "it is not tried at each look"
    monkeypatch.setattr(module, "AGAIN_S", 0.0)
    boxes.tend(0.0)
    box, found = boxes.next("a", 5, {})
    box.has("a", found[-1].number, 0.0)
    boxes.add([Word(draft(title="on disk"))], 0.0)
    assert boxes.trouble == ""
    boxes.close()
    assert [each.record["title"] for each in Outbox(tmp_path / place).waiting("a", 5)] == ["on disk"]


def test_while_the_disk_refuses_memory_stands_in_and_the_order_holds(tmp_path: Path) -> None:
    boxes = Boxes(tmp_path / "outbox.db")
    boxes.keep_for({"a": False})
    boxes.add([Word(draft(title="on disk"))], 0.0)
    assert boxes._disk
    boxes._disk._db.execute("PRAGMA max_page_count = 1")  # as a full disk
    big = "x" * 1900
    for number in range(8):
        boxes.add([Word(draft(title=f"{number} {big}"))], 0.0)
    assert "cannot be written (database or disk is full)" in boxes.trouble
    boxes._disk._db.execute("PRAGMA max_page_count = 100000")
    boxes.add([Word(draft(title="8 there is room again"))], 0.0)
    came: list[str] = []
    has: dict[str, int] = {}
    while (found := boxes.next("a", 3, has))[1]:
        came += [str(entry.record["title"])[:7] for entry in found[1]]
        has[found[0].origin] = found[1][-1].number
        found[0].has("a", found[1][-1].number, 0.0)
    assert came == ["on disk", *(f"{number} xxxxx" for number in range(8)), "8 there"]
    boxes.add([Word(draft(title="on disk again"))], 0.0)
    assert boxes.trouble == ""


def test_a_closed_outbox_says_so_and_does_not_crash() -> None:
    box = filled(None)
    box.close()
    with pytest.raises(OutboxError, match="closed"):
        box.waiting("a", 1)
