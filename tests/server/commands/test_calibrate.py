"""`slipring calibrate` as a person answers it, against a service that is played by the test."""

import io
import json
from argparse import Namespace
from typing import Any

import pytest

from server.calibration.angle import LOADS
from server.commands import calibrate
from server.commands.asking import AskError, Asking
from server.web.calibration_api import guide_records

CHANNELS = [
    {"channel": 0, "role": "voltage", "name": "U", "place": "supply", "unit": "V", "words": {"zero": "z", "gain": "g"}},
    {"channel": 1, "role": "current", "name": "I", "place": "line", "unit": "A", "words": {"gain": "g", "angle": "a"}},
]
KEPT: dict[str, Any] = {
    "described": True,
    "serial": "S-1",
    "file": "/data/S-1.toml",
    "refusal": "",
    "channels": CHANNELS,
}
FIT = {"pieces": 15, "of": 15, "mean": 0.0, "rms": 4.08, "scatter": 2e-4, "lead_deg": -1.1, "unit": "A", "refusal": ""}
FOUND = {"unit": "A", "before": 4.08, "before_u95": None, "after": 4.0, "after_u95": 0.009}
ENTRY = {"value": 0.98, "u95": 0.002, "reference": "bench meter 34", "made_utc_s": 1_795_615_000.0}


class Played:
    """What a service answers; `asked` is what it was asked to change."""

    def __init__(self, *answers: str, monkeypatch: pytest.MonkeyPatch, **answers_of_it: Any) -> None:
        self.asked: list[tuple[str, Any]] = []
        self.looks = 0
        self._answers = answers_of_it
        monkeypatch.setattr(calibrate, "Asking", lambda url, data: self)
        monkeypatch.setattr(calibrate, "_EVERY_S", 0.0)
        monkeypatch.setattr("sys.stdin", io.StringIO("".join(f"{answer}\n" for answer in answers)))

    def get(self, path: str) -> Any:
        if path == "/api/rigs":
            return self._answers.get("rigs", [{"name": "bench"}])
        if "/look" in path:
            self.looks += 1
            return self._answers.get("looks", [FIT] * self.looks)[self.looks - 1]
        guides, loads = guide_records(), [{"key": each.key, "words": each.words} for each in LOADS]
        return {**KEPT, "guides": guides, "loads": loads, **self._answers.get("kept", {})}

    def post(self, path: str, body: Any) -> Any:
        self.asked.append((path.rpartition("/")[2], body))
        if "refusal" in self._answers:
            raise AskError(self._answers["refusal"])
        return {"measure": {**FOUND, "parts": [{"source": "reference", "standard": 0.004}]}}.get(path[-7:], ENTRY)


def run(**options: Any) -> int:
    its = {"url": "http://127.0.0.1:8420", "port": None, "data": None, "rig": "", "list": False, "undo": None}
    return calibrate.run(Namespace(**{**its, "json": False, **options}))


METER = ("4,000", "0.008", "limit", "bench meter 34")


def test_a_gain_is_measured_with_what_was_answered_and_kept(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    service = Played("1", "gain", "yes", "", "", "", "", *METER, "yes", monkeypatch=monkeypatch)
    assert run() == 0
    (_, wish), (kept, _) = service.asked
    assert wish == {"what": "gain", "channel": 1, "reference": 4.0, "uncertainty": 0.008} | {
        "is_limit": True,
        "words": "bench meter 34",
    }
    assert kept == "keep"
    said = capsys.readouterr().err.replace("\u00a0", " ")
    assert "before  4.08 A, ± is not known\nafter   4.000 ± 0.009 A" in said
    assert "Kept: gain 0.9800 ± 0.0020, against bench meter 34." in said
    monkeypatch.setitem(FOUND, "before_u95", 0.0)  # the board states that it errs by nothing
    Played("1", "gain", "yes", "", "", "", "", *METER, "yes", monkeypatch=monkeypatch)
    assert run() == 0
    assert "before  4.08 A\n" in capsys.readouterr().err


def test_cautions_stand_before_the_first_step(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    Played("1", "gain", "no", monkeypatch=monkeypatch)
    assert run() == 1
    said = capsys.readouterr().err
    assert "capacitors stay charged" in said
    assert "\n1. " not in said
    assert said.endswith("slipring: left; nothing was kept.\n")


@pytest.mark.parametrize(
    "answers",
    [
        ("q",),
        (),
        ("1", "gain", "yes", "q"),
        ("1", "gain", "yes", "", "", "", "", *METER, "no"),
        ("1", "gain", "yes", "", "", "", "", "4.0"),
    ],
)
def test_who_leaves_keeps_nothing(monkeypatch: pytest.MonkeyPatch, answers: tuple[str, ...]) -> None:
    service = Played(*answers, monkeypatch=monkeypatch)
    assert run() == 1
    assert "keep" not in [what for what, _ in service.asked]


def test_a_mistyped_answer_is_asked_again(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    Played("7", "1", "shape", "gain", "yes", "", "", "", "", "four", *METER, "yes", monkeypatch=monkeypatch)
    assert run() == 0
    said = capsys.readouterr().err
    assert "one of: 0, 1; q leaves" in said
    assert "one of: gain, angle; q leaves" in said
    assert "a number, such as 4.987; q leaves" in said


def test_it_waits_until_the_signal_is_fit_and_says_why_not(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    bad = {**FIT, "refusal": "I clipped"}
    service = Played(
        *("1", "angle", "film", "yes", "", "", "", "57 ohm", "yes"),
        monkeypatch=monkeypatch,
        looks=[{**FIT, "mean": None, "pieces": 0}, {**FIT, "pieces": 5, "refusal": "wait"}, bad, bad, FIT],
    )
    assert run() == 0
    said = capsys.readouterr().err
    assert said.count("not yet: I clipped.") == 1
    assert "the current leads by -1.100°" in said
    assert service.asked[0][1] == {"what": "angle", "channel": 1, "against": 0, "load": "film", "words": "57 ohm"}


def test_undo_list_and_several_rigs(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    service = Played(monkeypatch=monkeypatch)
    assert run(undo=["gain", "1"]) == 0
    assert service.asked == [("undo", {"what": "gain", "channel": 1})]
    assert run(undo=["gain", "I"]) == 1
    assert run(list=True) == 0
    assert "  1  I\n     gain   g\n     angle  a" in capsys.readouterr().out
    assert run(list=True, json=True) == 0
    assert [json.loads(line)["name"] for line in capsys.readouterr().out.splitlines()] == ["U", "I"]
    Played(monkeypatch=monkeypatch, rigs=[{"name": "a"}, {"name": "b"}])
    assert run(list=True) == 1
    assert "which rig? Name it with --rig NAME; there are: a, b." in capsys.readouterr().err


@pytest.mark.parametrize("doing", [{"list": True}, {}])
def test_a_board_that_has_not_described_itself_is_waited_for(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], doing: dict[str, bool]
) -> None:
    Played(monkeypatch=monkeypatch, kept={"described": False, "serial": "", "channels": []})
    assert run(**doing) == 1
    assert "the board has not said yet what it measures" in capsys.readouterr().err


@pytest.mark.parametrize("doing", [{"list": True}, {}])
def test_a_refused_file_is_told(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], doing: dict[str, bool]
) -> None:
    Played(monkeypatch=monkeypatch, kept={"refusal": "S-1.toml, line 3: this is not TOML; write.", "channels": []})
    assert run(**doing) == 1
    assert "the calibration file is not used: S-1.toml, line 3" in capsys.readouterr().err


def test_what_the_service_refuses_is_told_in_its_words(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    Played(*("1", "gain", "yes", "", "", "", "", *METER), monkeypatch=monkeypatch, refusal="I was not steady.")
    assert run() == 1
    assert "slipring: I was not steady." in capsys.readouterr().err


def test_an_address_without_a_service_is_told() -> None:
    with pytest.raises(AskError, match="is not an address"):
        Asking("ftp://x", None)
    with pytest.raises(AskError, match=r"no service answers at http://127\.0\.0\.1:9; start one"):
        Asking("http://127.0.0.1:9", None).get("/api/rigs")
    with pytest.raises(AskError, match="there is no folder /no-such-folder"):
        Asking("http://127.0.0.1:9", "/no-such-folder").post("/api/rigs", {})
