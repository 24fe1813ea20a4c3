"""The small twin of the proof of a night: seconds of a board, recorded, pulled out, struck and started anew."""

from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest

from firmware_protocol import encode_frame
from server.alarms.notice import Told
from server.config import AlarmSettings, RigSettings
from server.runs.library import Library
from server.runs.recording import Recording
from tests.night.found import slope_of
from tests.night.log_found import lives
from tests.night.making import make
from tests.night.plan import Happening, plan
from tests.night.stored import Compared, Stored, compared, stored
from tests.night.struck import StruckWire
from tests.night.truth import Journal, Sent, lines, sent_of
from tests.proofs.night import main
from tests.server.alarms.scenes import Bench, only, state
from tests.server.tiny_board import STORY, TinyBoard

RUNS = state("running")
LOST = {"cable out", "service not running", "lost on the wire"}


@dataclass
class Made:
    sent: list[Sent]
    there: Stored

    def compared(self) -> Compared:
        return compared(self.sent, self.there, [], [])


@pytest.fixture(scope="module")
def night(tmp_path_factory: pytest.TempPathFactory) -> Made:
    """A board of a few lines: its cable is out, the service stops, the wire spoils frames, it starts anew."""
    folder = tmp_path_factory.mktemp("night")
    library, journal, now_s = Library(folder / "runs"), Journal(folder / "journal.jsonl"), 1_795_615_320.0
    messages = [*TinyBoard().messages(STORY)]
    recording = Recording(RigSettings("bench"), library)
    recording.connected(now_s)
    wire, sequence = StruckWire(3), 0
    for boot, cause in ((1, "service not running"), (2, "cable out")):
        for k, message in enumerate(messages):
            now_s, sequence = now_s + 0.005, sequence + 1 if k else 0
            frame = encode_frame(message, sequence=sequence, boot=boot)
            if k == 300 and boot == 1:
                recording.stop(now_s)
                recording = Recording(RigSettings("bench"), library)
            elif k == 300:
                recording.disconnected(now_s)
            if 300 <= k < 500:
                journal.sent(now_s, boot, [frame], cause)
                continue
            if k == 500:  # it is asked who it is
                recording.connected(now_s)
                described = [
                    encode_frame(each, sequence=sequence + n, boot=boot) for n, each in enumerate(messages[:5])
                ]
                recording.chunk(b"\0" + b"".join(described), now_s)
                sequence += len(described)
                frame = encode_frame(message, sequence=sequence, boot=boot)
            out, fates = wire.passed([frame]) if 600 <= k < 1000 or wire.waits else (frame, [("", frame)])
            for fate, each in fates:
                journal.sent(now_s, boot, [each], fate)
            recording.chunk(out, now_s)
    recording.end_run(now_s)
    recording.stop(now_s)
    journal.close()
    (run,) = library.runs()
    library.close()
    return Made(list(sent_of(lines(folder / "journal.jsonl"))), stored(folder / "runs" / run.name))


def test_all_that_the_board_promised_is_stored_or_missing_for_what_was_really_done(night: Made) -> None:
    its = night.compared()
    assert its.wrong == []
    assert {each.reason for each in its.missing} == LOST
    for line in night.there.account:
        counter = line["what"], line["number"]
        missing = {
            reason: sum(m.behind - m.first for m in its.missing if m.place[1] == counter and m.reason == reason)
            for reason in line["missing"]
        }
        assert (line["promised"], line["stored"]) == (its.promised[counter], its.kept[counter])
        assert line["missing"] == missing


def test_a_sample_that_is_not_there_or_should_not_be_is_found(night: Made) -> None:
    place = 2, ("samples", 0)
    first, behind = night.there.by_place[place][0]
    for stretches in ([(first, behind - 10)], [(first, behind + 10)], [(first, behind), (first, behind)]):
        spoiled = Stored({**night.there.by_place, place: [*stretches, *night.there.by_place[place][1:]]})
        assert compared(night.sent, spoiled, [], []).wrong


def test_what_befalls_a_night_is_drawn_by_its_seed_and_leaves_out_nothing() -> None:
    made = plan(3, 12.0)
    assert made == plan(3, 12.0) != plan(4, 12.0)
    assert {each.kind for each in made} == {"pull", "unplug", "reset", "damage", "restart", "kill", "clock"}
    assert all(a.at_s <= b.at_s < 12 * 3600.0 for a, b in pairwise(made))


@pytest.mark.parametrize(
    "silences",
    [
        [(100.0, 120.0)],
        [(100.0, 120.0), (1000.0, 1200.0), (2500.0, 2600.0)],
        [(100.0, 120.0), (300.0, 320.0), (500.0, 520.0), (700.0, 720.0), (900.0, 920.0), (1700.0, 1720.0)],
    ],
)
def test_silences_are_counted_as_the_alarms_fold_them(silences: list[tuple[float, float]]) -> None:
    gone = AlarmSettings("gone", "alarm", "Go and look", state="running", no_samples_s=10.0)
    bench, now_s = Bench(only(gone)), 0.0
    for from_s, to_s in [*silences, (silences[-1][1] + 700.0, silences[-1][1] + 700.0)]:
        for _ in range(round(from_s - now_s)):
            bench.see(RUNS)
            bench.wait(0.8, tick_s=0.4)
        bench.wait(to_s - from_s)
        now_s = to_s
    raised, _ = lives(silences)
    kinds = [each.kind.value for each in bench.notices if each.kind is not Told.AGAIN]
    assert kinds == ["raised", "ended"] * raised


def test_a_slope_is_told_with_what_its_scatter_allows() -> None:
    at = np.arange(20) / 2.0
    slope, half = slope_of(at, 100.0 + 0.5 * at + np.random.default_rng(1).normal(0.0, 0.2, 20))
    assert abs(slope - 0.5) < half < 0.1
    assert slope_of(at[:3], at[:3])[1] == np.inf


@pytest.mark.long
def test_a_night_of_a_minute_is_accounted_and_one_that_is_interrupted_goes_on(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    hours, all_of_it = 0.02, [Happening("pull", 15.0, 4.0, True), Happening("kill", 30.0, 3.0)]
    monkeypatch.setattr("tests.night.making.plan", lambda seed, hours: all_of_it)
    looks = list[str]()

    def interrupted(said: str) -> None:
        looks.append(said)
        if len(looks) == 5:  # some time after the cable was out: what was told of it is on the disk
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        make(tmp_path, 1, hours, interrupted)
    assert main(tmp_path, 1, hours) == 0, capsys.readouterr().out
