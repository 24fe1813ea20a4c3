"""All rigs together: what is on disk, what is refused, and that one never stops another."""

import asyncio
from collections.abc import AsyncIterator, Callable
from pathlib import Path

import pytest

from server import rigs
from server.config import ConfigError, MotorSettings, Plate, RigSettings
from server.demo_list import FIRST
from server.demo_rigs import Played
from server.live.records import ConnectionState, RecordingState
from server.rigs import Rigs
from server.settings.file import read_rig, rig_names
from tests.server.ingest.boards import PtyBoard

DEMO = [Played(key) for key in FIRST]


async def until(happened: Callable[[], object], within_s: float = 3.0) -> None:
    async with asyncio.timeout(within_s):
        while not happened():
            await asyncio.sleep(0.01)


@pytest.fixture
async def bench(tmp_path: Path) -> AsyncIterator[Rigs]:
    made = Rigs(tmp_path)
    yield made
    await made.stop()


def states(bench: Rigs) -> dict[str, ConnectionState]:
    return {rig.name: rig.view.connection.state for rig in bench}


async def test_rigs_come_from_their_files_and_the_wanted_ones_get_theirs(bench: Rigs, tmp_path: Path) -> None:
    board, link = PtyBoard(), tmp_path / "board"
    link.symlink_to(board.url)
    await bench.add(RigSettings("one", port=str(link)))
    await bench.stop()
    await bench.start({"two": "/dev/no-such-port"})
    await until(lambda: states(bench) == {"one": ConnectionState.LIVE, "two": ConnectionState.NO_BOARD})
    assert read_rig(tmp_path / "rigs", "two").settings.port == "/dev/no-such-port"
    board.pull()


async def test_a_baud_rate_behind_the_port_is_kept_with_the_rig(bench: Rigs, tmp_path: Path) -> None:
    await bench.start({"two": "/dev/no-such-port@250000"})
    kept = read_rig(tmp_path / "rigs", "two").settings
    assert (kept.port, kept.baud) == ("/dev/no-such-port", 250_000)
    await bench.stop()
    await bench.add(RigSettings("three", port="/dev/no-such-port@115200"))
    three = read_rig(tmp_path / "rigs", "three").settings
    assert (three.port, three.baud) == ("/dev/no-such-port", 115_200)
    await bench.remove("three")
    await bench.start({"two": "/dev/no-such-port@wrong"})
    assert [rig.settings.port for rig in bench] == ["/dev/no-such-port@wrong"]
    assert [rig.settings.baud for rig in bench] == [250_000]


async def test_a_rig_on_a_pty_is_for_this_time_only(bench: Rigs, tmp_path: Path) -> None:
    board = PtyBoard()
    await bench.start({"one": board.url})
    await bench.add(RigSettings("two", port="/dev/pts/99999"))
    await until(lambda: states(bench) == {"one": ConnectionState.LIVE, "two": ConnectionState.NO_BOARD})
    await bench.remove("two")
    await bench.stop()
    assert rig_names(tmp_path / "rigs") == []
    board.pull()


async def test_a_pty_of_an_earlier_life_in_a_settings_file_is_not_opened_at_a_start(tmp_path: Path) -> None:
    first = Rigs(tmp_path)
    board = PtyBoard()
    await first.start({"one": board.url})
    await until(lambda: states(first) == {"one": ConnectionState.LIVE})
    await first.change("one", RigSettings("one", port=board.url, motor=MotorSettings("fan")))
    await first.stop()
    assert rig_names(tmp_path / "rigs") == ["one"]
    for wanted, state in (({}, ConnectionState.SETTINGS_REFUSED), ({"one": board.url}, ConnectionState.LIVE)):
        again = Rigs(tmp_path)
        await again.start(wanted)
        await until(lambda again=again, state=state: states(again) == {"one": state})  # type: ignore[misc]  # a default binds it
        await again.stop()
    board.pull()


@pytest.mark.parametrize(
    ("settings", "sentence"),
    [
        (
            RigSettings("../x"),
            "a rig cannot be called '../x'; use a to z and digits, then - and _ too, 40 at most.",
        ),
        (RigSettings("x", baud=3), "baud = 3: this is not possible; write a whole number from 300 to 50000000"),
        (
            RigSettings("x", motor=MotorSettings(type="brushles")),
            'there is no motor type "brushles"; write type = "brushless".',
        ),
        (
            RigSettings("x", motor=MotorSettings(plate=Plate(frequency_hz=50.0, pole_pairs=2, speed_rpm=1600.0))),
            "1600 r/min is above 1500 r/min, the synchronous speed of 2 pole pairs; write what the plate says.",
        ),
    ],
)
async def test_settings_that_cannot_be_are_refused_and_nothing_is_written(
    settings: RigSettings, sentence: str, bench: Rigs, tmp_path: Path
) -> None:
    with pytest.raises(ConfigError) as caught:
        await bench.add(settings)
    assert str(caught.value).startswith(sentence)
    assert list(tmp_path.rglob("*.toml")) == []
    assert list(bench) == []


async def test_a_change_is_written_and_the_one_before_is_kept(bench: Rigs, tmp_path: Path) -> None:
    await bench.add(RigSettings("one"))
    with pytest.raises(ConfigError):
        await bench.change("one", RigSettings("one", motor=MotorSettings(type="nonsense")))
    rig = await bench.change("one", RigSettings("one", motor=MotorSettings(name="pump")))
    assert rig.settings.motor == MotorSettings(name="pump")
    assert rig.view.motor.name == "pump"
    assert (tmp_path / "rigs" / "one.toml.previous").exists()
    with pytest.raises(KeyError):
        await bench.change("two", RigSettings("two"))


async def test_a_removed_rig_is_gone_at_the_next_start(bench: Rigs) -> None:
    await bench.add(RigSettings("one"))
    await bench.remove("one")
    assert bench.get("one") is None
    await bench.start()
    assert list(bench) == []


async def test_the_run_of_a_removed_rig_is_closed_and_says_why(bench: Rigs, tmp_path: Path) -> None:
    board = PtyBoard()
    await bench.start({"one": board.url})
    assert bench.library is not None
    library = bench.library
    await until(library.runs)
    await bench.remove("one")
    assert [(run.rig, run.reason) for run in library.runs()] == [("one", "the rig was removed")]
    board.pull()


async def test_a_rig_whose_file_cannot_be_put_away_goes_on(bench: Rigs, tmp_path: Path) -> None:
    await bench.add(RigSettings("one"))
    (tmp_path / "rigs" / "one.toml.previous").mkdir()
    with pytest.raises(ConfigError, match=r"the settings of one cannot be put away \(Is a directory\)"):
        await bench.remove("one")
    assert [rig.name for rig in bench] == ["one"]


async def test_a_refused_settings_file_is_read_again_when_it_has_been_corrected(
    bench: Rigs, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(rigs, "READ_AGAIN_S", 0.05)
    file = tmp_path / "rigs" / "one.toml"
    file.parent.mkdir()
    file.write_text('[rig]\nname = "one"\nbaud = 3\n')
    await bench.start({"one": "/dev/no-such-port"})
    (rig,) = bench
    assert rig.view.connection.state is ConnectionState.SETTINGS_REFUSED
    assert rig.view.connection.text.startswith("one.toml, line 3: baud = 3: this is not possible")
    file.write_text('[rig]\nname = "one"\nbadu = 9600\n')
    await until(lambda: "badu" in rig.view.connection.text)
    file.write_text('[rig]\nname = "one"\nbaud = 9600\n')
    await until(lambda: rig.view.connection.state is ConnectionState.NO_BOARD)
    assert (rig.settings.baud, rig.settings.port, rig.refusal) == (9600, "/dev/no-such-port", "")


async def test_the_demo_that_was_asked_for_stands_before_the_saved_rigs(bench: Rigs) -> None:
    await bench.add(RigSettings("heron-1"))
    await bench.stop()
    await bench.start(demos=DEMO)
    assert [rig.name for rig in bench] == ["heron-3", "heron-2", "heron-1"]


async def test_a_name_is_given_once(bench: Rigs) -> None:
    await bench.add(RigSettings("one"))
    with pytest.raises(ConfigError, match='there is a rig "one" already; choose another name'):
        await bench.add(RigSettings("one"))


async def test_there_is_a_limit_and_it_is_said(bench: Rigs, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(rigs, "RIGS_MAX", 1)
    await bench.add(RigSettings("one"))
    with pytest.raises(ConfigError, match="there are 1 rigs already"):
        await bench.add(RigSettings("two"))
    assert [rig.name for rig in bench] == ["one"]
    assert await _names_after_restart(bench) == ["one"]


async def _names_after_restart(bench: Rigs) -> list[str]:
    await bench.stop()
    await bench.start()
    return [rig.name for rig in bench]


async def test_a_disk_that_refuses_is_told_and_starts_no_rig(bench: Rigs, tmp_path: Path) -> None:
    (tmp_path / "rigs").write_text("a file where the folder should be")
    with pytest.raises(ConfigError, match="the settings of one cannot be written"):
        await bench.add(RigSettings("one"))
    assert list(bench) == []


async def test_a_folder_of_runs_that_cannot_be_used_keeps_no_rig_from_running(bench: Rigs, tmp_path: Path) -> None:
    (tmp_path / "runs").write_text("a file where the folder should be")
    board = PtyBoard()
    await bench.start({"one": board.url})
    await until(lambda: states(bench) == {"one": ConnectionState.LIVE})
    (rig,) = bench
    assert rig.view.recorded().state is RecordingState.FAILED
    assert rig.view.recorded().reason == f"the folder of the runs, {tmp_path}/runs, cannot be used (File exists)"
    board.pull()


async def test_more_settings_files_than_rigs_leave_room_for_the_demo(
    bench: Rigs, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    async def refused(*command: object, **options: object) -> None:
        raise OSError(24, "Too many open files")

    monkeypatch.setattr(asyncio, "create_subprocess_exec", refused)
    (tmp_path / "rigs").mkdir()
    for number in range(rigs.RIGS_MAX + 1):
        (tmp_path / "rigs" / f"r{number:02}.toml").write_text(f'[rig]\nname = "r{number:02}"\n')
    await bench.start(demos=DEMO)
    await until(lambda: states(bench)["heron-1"] is ConnectionState.ENDED)
    rig = bench.get("heron-1")
    assert rig is not None
    assert rig.view.connection.text == (
        "The software board cabin_ventilator could not be started (Too many open files)."
    )
    assert len(list(bench)) == rigs.RIGS_MAX
    assert "The rig r32 is not started: there are 30 already" in caplog.text
