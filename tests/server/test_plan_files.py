"""Plans on the disk: written whole, the one before kept, renamed with their rig, refused as a sentence."""

from pathlib import Path

import pytest

from server.config import ConfigError
from server.plan_files import PlanFiles
from server.test_plan.passed import Passed

NOW_S = 1_795_615_320.0
ONE = '[test]\nspecimen = "one"\ngoal_hours = 1.0\n'
OTHER = '[test]\nspecimen = "other"\nbegins = "1970-01-01T00:00:00Z"\ngoal_hours = 1.0\n'


def test_a_plan_is_kept_and_the_one_before_it_too(tmp_path: Path) -> None:
    files = PlanFiles(tmp_path / "plans")
    assert files.read("bench") is None
    files.write("bench", ONE, NOW_S)
    found = files.write("bench", OTHER, NOW_S)
    assert found.plan.specimen == "other"
    assert files.read("bench") == found
    assert Path(found.file + ".previous").read_text() == ONE
    assert files.remove("bench")
    assert not files.remove("bench")
    assert files.read("bench") is None


def test_a_text_that_is_no_plan_leaves_the_one_that_is_there(tmp_path: Path) -> None:
    files = PlanFiles(tmp_path)
    files.write("bench", ONE, NOW_S)
    with pytest.raises(ConfigError, match=r"line 2: this is not TOML.*; write lines such as goal_cycles = 500"):
        files.write("bench", "[test]\n=", NOW_S)
    with pytest.raises(ConfigError, match="cannot be called"):
        files.write("../bench", ONE, NOW_S)
    assert [each.name for each in tmp_path.iterdir()] == ["bench.toml"]


def test_a_plan_goes_with_its_rig_and_takes_no_other_plans_place(tmp_path: Path) -> None:
    files = PlanFiles(tmp_path)
    files.write("bench", ONE, NOW_S)
    assert files.rename("bench", "shelf")
    files.write("bench", OTHER, NOW_S)
    assert not files.rename("bench", "shelf")
    said = [files.read(name) for name in ("shelf", "bench")]
    assert [each and each.plan.specimen for each in said] == ["one", "other"]


def test_what_ran_with_another_specimen_counts_where_a_person_says_so_alone(tmp_path: Path) -> None:
    files, next_one = PlanFiles(tmp_path), ONE.replace('"one"', '"one"\nserial = "2"')
    first = files.write("bench", ONE, NOW_S)
    said = (
        r'one was tested on this rig, and its runs would count .*; write begins = "2026-11-25T14:02:00Z" to count from'
    )
    with pytest.raises(ConfigError, match=said) as refused:
        files.write("bench", next_one, NOW_S)
    assert refused.value.key == "test.begins"
    files.remove("bench")
    with pytest.raises(ConfigError, match=said):
        files.write("bench", next_one, NOW_S)
    files.write("bench", next_one + 'begins = "2026-11-25T13:22:00Z"\n', NOW_S)
    with pytest.raises(ConfigError, match=said):
        files.write("bench", next_one, NOW_S)  # it has begun, and is to begin no more
    with pytest.raises(ConfigError, match="one 2 was tested"):
        files.write("bench", OTHER.replace("begins", "# begins"), NOW_S)
    assert files.write("bench", ONE, NOW_S) == first, "a change is undone"


def test_that_a_test_has_passed_is_kept_for_what_its_plan_asks_for(tmp_path: Path) -> None:
    files, passed = PlanFiles(tmp_path), Passed(NOW_S + 0.25, frozenset(("a", "b")))
    plan = files.write("bench", ONE, NOW_S).plan
    assert files.passed("bench", plan) is None
    files.keep_passed("bench", plan, passed)
    assert files.passed("bench", files.write("bench", "# as before\n" + ONE, NOW_S).plan) == passed
    assert files.passed("bench", files.write("bench", ONE.replace("1.0", "2.0"), NOW_S).plan) is None
    assert files.passed("shelf", plan) is None


@pytest.mark.parametrize("spoil", [b"", b"[]", b"{}", b'{"format": 2}', b"\xff", b"NaN", b"9" * 5000])
def test_of_what_is_no_record_of_a_pass_nothing_is_taken(tmp_path: Path, spoil: bytes) -> None:
    files = PlanFiles(tmp_path)
    plan = files.write("bench", ONE, NOW_S).plan
    files.keep_passed("bench", plan, Passed(1.0, frozenset("a")))
    kept = tmp_path / "bench.passed.json"
    whole = kept.read_bytes()
    strange = [whole.replace(b"1.0", each) for each in (b"NaN", b'"1"', b"Infinity", b"null", b"[1]", b"1e12")]
    for content in (spoil, *strange, whole.replace(b'["a"]', b"null")):
        kept.write_bytes(content)
        assert files.passed("bench", plan) is None, content


def test_a_folder_that_cannot_be_written_is_told_with_the_file(tmp_path: Path) -> None:
    (tmp_path / "plans").write_text("a file in the way")
    with pytest.raises(ConfigError, match=r"bench\.toml: the plan cannot be written"):
        PlanFiles(tmp_path / "plans").write("bench", ONE, NOW_S)


def test_what_is_no_file_is_read_as_a_refusal(tmp_path: Path) -> None:
    (tmp_path / "bench.toml").mkdir()
    with pytest.raises(ConfigError, match="this is no file"):
        PlanFiles(tmp_path).read("bench")


def test_a_plan_that_cannot_be_written_leaves_the_one_that_is_there(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    files = PlanFiles(tmp_path)
    files.write("bench", ONE, NOW_S)

    def full(path: Path, content: bytes) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("server.plan_files.replace_file", full)
    with pytest.raises(ConfigError, match="the plan cannot be written \\(No space left on device\\)"):
        files.write("bench", OTHER, NOW_S)
    found = files.read("bench")
    assert found is not None
    assert found.plan.specimen == "one"
