"""Settings of a rig that runs: changed, undone, renamed, and written by hand while the service runs."""

from collections.abc import AsyncIterator
from dataclasses import replace
from pathlib import Path

import pytest

from server import rigs
from server.config import ChannelSettings, ConfigError, Limit, MotorSettings, Plate, RigSettings, Wires
from server.demo_rigs import Played
from server.live.records import ConnectionState
from server.rigs import Rigs
from tests.server.ingest.boards import PtyBoard
from tests.server.until import until

ONE = RigSettings("one")


@pytest.fixture
async def bench(tmp_path: Path) -> AsyncIterator[Rigs]:
    made = Rigs(tmp_path)
    yield made
    await made.stop()


def text(bench: Rigs, name: str = "one") -> str:
    file = bench.files.file(name)
    assert file is not None
    return file.read_text()


async def test_the_last_change_is_undone_and_done_again(bench: Rigs) -> None:
    rig = await bench.add(ONE)
    with pytest.raises(ConfigError, match="nothing was changed in the settings of one; there is nothing to undo"):
        await bench.undo("one")
    before = text(bench)
    await bench.change("one", replace(ONE, motor=MotorSettings("pump"), speed_unit="rad/s"))
    assert (rig.view.motor.name, rig.view.speed_unit) == ("pump", "rad/s")
    after = text(bench)
    await bench.undo("one")
    assert (rig.settings, rig.view.motor.name, rig.view.speed_unit, text(bench)) == (ONE, "", "r/min", before)
    await bench.undo("one")
    assert (rig.view.motor.name, text(bench)) == ("pump", after)


async def test_a_file_before_that_cannot_be_used_is_not_brought_back(bench: Rigs, tmp_path: Path) -> None:
    rig = await bench.add(ONE)
    await bench.change("one", replace(ONE, stopped_rpm=4.0))
    now = text(bench)
    previous = tmp_path / "rigs" / "one.toml.previous"
    for wrong, sentence in (
        ("[rig]\nbaud = 3\n", r"one\.toml\.previous, line 2: baud = 3"),
        ('[motor]\ntype = "toaster"\n', 'line 2: there is no motor type "toaster"'),
    ):
        previous.write_text(wrong)
        with pytest.raises(ConfigError, match=sentence):
            await bench.undo("one")
        assert (text(bench), previous.read_text(), rig.settings.stopped_rpm) == (now, wrong, 4.0)


async def test_a_comment_survives_a_change_and_what_was_written_by_hand_just_before_it(
    bench: Rigs, tmp_path: Path
) -> None:
    rig = await bench.add(ONE)
    file = tmp_path / "rigs" / "one.toml"
    file.write_text("# mine\n[rig]\nstopped_rpm = 3 # slow\n")
    await bench.look_at_file("one")
    await bench.change("one", replace(rig.settings, rest_closes_run_s=60.0))
    assert text(bench) == "# mine\n[rig]\nstopped_rpm = 3 # slow\nrest_closes_run_s = 60.0\n"


async def test_what_is_written_by_hand_holds_and_a_mistake_stops_no_rig_that_runs(
    bench: Rigs, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(rigs, "READ_AGAIN_S", 0.05)
    board = PtyBoard()
    link = tmp_path / "board"
    link.symlink_to(board.url)
    await bench.add(replace(ONE, port=str(link)))
    await bench.stop()
    await bench.start()
    (rig,) = bench
    await until(lambda: rig.view.connection.state is ConnectionState.LIVE)
    good = text(bench)
    file = tmp_path / "rigs" / "one.toml"
    file.write_text(good + "[motor]\nname = 'fan'\n")
    await until(lambda: rig.view.motor.name == "fan")
    file.write_text(good + "[motor]\nnaem = 'pump'\n")
    await until(lambda: rig.refusal)
    assert "line 10" in rig.refusal
    assert '"naem" is not a key of [motor]; write name.' in rig.refusal
    assert (rig.view.motor.name, rig.view.connection.state) == ("fan", ConnectionState.LIVE)
    file.write_text(good + "[motor]\nname = 'pump'\n")
    await until(lambda: rig.view.motor.name == "pump")
    assert rig.refusal == ""
    board.pull()


async def test_a_rig_gets_another_name_and_its_file_with_it(bench: Rigs, tmp_path: Path) -> None:
    await bench.add(ONE)
    await bench.add(RigSettings("two"))
    with pytest.raises(ConfigError, match='there is a rig "two" already; choose another name') as caught:
        await bench.change("one", RigSettings("two"))
    assert caught.value.key == "rig.name"
    with pytest.raises(ConfigError, match="a rig cannot be called"):
        await bench.change("one", RigSettings("../three"))
    (tmp_path / "rigs" / "one.toml").write_text('# mine\n[rig]\nname = "one"\n')
    await bench.look_at_file("one")
    rig = await bench.change("one", RigSettings("three"))
    assert (rig.name, {each.name for each in bench}) == ("three", {"two", "three"})
    assert text(bench, "three") == '# mine\n[rig]\nname = "three"\n'
    assert bench.files.names() == ["three", "two"]


@pytest.mark.parametrize(("key", "kind"), [("run_state", "a word"), ("current_harmonics_a", "a list")])
async def test_what_is_no_number_can_have_no_limit(bench: Rigs, tmp_path: Path, key: str, kind: str) -> None:
    await bench.add(ONE)
    said = f"{key} is {kind} and can have no limit; set limits of a number, such as current_rms_a"
    with pytest.raises(ConfigError, match=said) as caught:
        await bench.change("one", replace(ONE, limits=(Limit(key, high=3.0),)))
    assert caught.value.key == f"limits.{key}"
    file = tmp_path / "rigs" / "one.toml"
    file.write_text(f"[limits.{key}]\nhigh = 3.0\n")
    await bench.look_at_file("one")
    assert bench.get("one") is not None
    assert f"{file}, line 1: {said}" in next(iter(bench)).refusal


async def test_names_that_differ_in_capitals_alone_are_one_name_to_many_file_systems(
    bench: Rigs, tmp_path: Path
) -> None:
    said = 'there is a rig "bench" already, and many file systems take "Bench" for the same name; choose another name'
    await bench.add(RigSettings("bench"))
    with pytest.raises(ConfigError, match=said) as caught:
        await bench.add(RigSettings("Bench"))
    assert caught.value.key == "rig.name"
    await bench.add(ONE)
    for name in ("one", "bench"):
        with pytest.raises(ConfigError, match=said if name == "one" else "take"):
            await bench.change(name, RigSettings("Bench"))
    assert sorted(path.name for path in (tmp_path / "rigs").iterdir()) == ["bench.toml", "one.toml"]
    await bench.stop()
    await bench.start({"Bench": "/dev/no-such-port"})
    assert {rig.name: said in rig.refusal for rig in bench} == {"Bench": True, "bench": False, "one": False}


async def test_limits_are_of_readings_that_there_are(bench: Rigs) -> None:
    await bench.add(ONE)
    with pytest.raises(ConfigError, match='there is no reading "curent_rms_a"; write current_rms_a') as caught:
        await bench.change("one", replace(ONE, limits=(Limit("curent_rms_a", high=3.0),)))
    assert caught.value.key == "limits.curent_rms_a"
    rig = await bench.change("one", replace(ONE, limits=(Limit("current_rms_a.L1", high=3.0),)))
    assert rig.view.limits == (Limit("current_rms_a.L1", high=3.0),)


async def test_channels_are_judged_by_the_board_that_is_there(bench: Rigs) -> None:
    board = PtyBoard()
    rig = await bench.add(replace(ONE, port=board.url))
    await until(lambda: rig.description)
    before = rig.settings
    with pytest.raises(ConfigError, match='this board has no channel "nine"; its channels are ') as caught:
        await bench.change("one", replace(before, channels=(ChannelSettings("nine", "current"),)))
    assert caught.value.key == "channels.nine"
    assert rig.settings == before
    board.pull()


async def test_a_demo_rig_keeps_no_settings_but_shows_speeds_in_the_unit_that_is_wanted(bench: Rigs) -> None:
    await bench.start(demos=[Played("cabin_ventilator")])
    (rig,) = bench
    await bench.change(rig.name, replace(rig.settings, speed_unit="rad/s"))
    assert rig.view.speed_unit == "rad/s"
    with pytest.raises(ConfigError, match="is a demo rig and keeps no settings"):
        await bench.change(rig.name, replace(rig.settings, motor=MotorSettings(plate=Plate(voltage_v=1.0))))
    assert bench.files.names() == []


async def test_names_of_wires_are_read_back_after_a_new_start(bench: Rigs, tmp_path: Path) -> None:
    await bench.add(ONE)
    wires = Wires("blue", "green", "white", "red", "black", "yellow")
    rig = await bench.change("one", replace(ONE, wires=wires))
    assert rig.view.wires == wires
    again = Rigs(tmp_path)
    await again.start()
    (rig,) = again
    assert rig.view.wires == wires
    await again.stop()
