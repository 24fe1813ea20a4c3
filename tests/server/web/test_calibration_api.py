"""Calibration over HTTP: a board that is off by a known gain, offset and delay is put right, kept, undone."""

import re
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any, cast

import numpy as np
import pytest

from firmware_protocol import WORD_CODING, Message, Samples
from server.calibration.files import CalibrationFiles
from server.config import RigSettings
from server.pipeline import Pipeline
from simulator.front_end import FrontEnd
from tests.server.pipelines import wire
from tests.server.tiny_board import CURRENT, VOLTAGE, TinyBoard
from tests.server.web.bench import BenchRig, Service
from tests.server.web.test_api import AUTHORIZED

# What the software board's front end draws: delays of a first-order filter, everything within what is stated.
CHANNELS = tuple(
    replace(
        each, delay_ns=400_000, corner_high_hz=450.0, gain_limit=0.03, offset_limit_codes=30.0, delay_limit_ns=40_000
    )
    for each in (VOLTAGE, CURRENT)
)
BOARD = TinyBoard(channels=CHANNELS)
MOST = 1.5  # times the 95 % interval: 99.7 of 100 normal ones lie inside, and a dozen are looked at here
PATH = "/api/rigs/heron-1/calibration"


class Bench:
    """A rig whose board's current is off, with whatever is put on it."""

    def __init__(self, service: Service, folder: Path, seed: int = 4) -> None:
        self.service, self.rig = service, BenchRig("heron-1")
        service.rigs.rigs = {"heron-1": self.rig}
        service.rigs.calibrations = CalibrationFiles(folder)
        self.rig.pipeline = Pipeline(RigSettings("heron-1"))
        self._front = FrontEnd(CHANNELS, 1e-3, np.random.default_rng(seed))
        self._frames = self._samples = 0
        self._put(BOARD.description())

    def _response(self, row: int) -> complex:
        """What a channel makes of 50 Hz."""
        taps = self._front._taps[row]
        return complex(taps @ np.exp(-2j * np.pi * 50.0 * np.arange(taps.size) / 1000.0))

    @property
    def gain(self) -> float:
        """Of the current's channel at 50 Hz."""
        return float(1.0 + self._front.gain_errors[1, 0]) * abs(self._response(1))

    @property
    def offset_a(self) -> float:
        return float(self._front.offset_error_codes[1, 0]) * CURRENT.scale

    @property
    def late_s(self) -> float:
        """By how much the current's channel is later than the voltage's at 50 Hz."""
        return float(np.angle(self._response(0) / self._response(1))) / (2.0 * np.pi * 50.0)

    def _put(self, messages: list[Message]) -> None:
        """Frames in turn, as they would come; on the service's own loop, as a rig does."""
        data = wire(messages, start=self._frames % 65536)
        self._frames += len(messages)

        def take() -> None:
            assert self.rig.pipeline is not None
            output = self.rig.pipeline.push(data, 0.0)
            for part in output.parts:
                self.rig.view.take(part, part.clock)

        self.service.on_loop(take)

    def measure(self, volts: float, amps: float, seconds: float = 4.0, lag_deg: float = 0.0) -> None:
        """So many seconds of true volts and amperes, as this board sees them."""
        times = (self._samples + np.arange(int(1000 * seconds))) / 1000.0
        angle = 2.0 * np.pi * 50.0 * times
        true = np.sqrt(2.0) * np.array([volts * np.cos(angle), amps * np.cos(angle - np.radians(lag_deg))])
        words = (self._front.codes(true).astype("<i2").view("<u2") ^ WORD_CODING).tobytes()
        first = self._samples
        self._samples += times.size
        blocks = range(0, times.size, 20)
        self._put([Samples(0, 2, first + k, (first + k) * 1000, words[4 * k : 4 * (k + 20)]) for k in blocks])

    def get(self, path: str, status: int = 200, **query: object) -> Any:
        with self.service.client as client:
            answer = client.get(PATH + path, params=cast(dict[str, str], query))
        assert answer.status_code == status, answer.text
        return answer.json()

    def post(self, path: str, status: int = 200, **body: Any) -> Any:
        with self.service.client as client:
            answer = client.post(PATH + path, json=body, headers=AUTHORIZED)
        assert answer.status_code == status, answer.text
        return answer.json()

    def reading(self, key: str) -> float:
        value = self.rig.view.readings(0.0)[key]["value"]
        assert isinstance(value, float)
        return value

    def u95(self, key: str) -> float:
        half = self.rig.view.readings(0.0)[key]["u95"]
        assert isinstance(half, float)
        return half


@pytest.fixture
def bench(service: Service, tmp_path: Path) -> Iterator[Bench]:
    made = Bench(service, tmp_path)
    yield made
    service.rigs.rigs = {}


def kept(bench: Bench, **wanted: Any) -> dict[str, Any]:
    bench.post("/measure", **wanted)
    done: dict[str, Any] = bench.post("/keep")
    return done


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_zero_gain_and_angle_put_a_software_board_right_within_the_new_uncertainty(
    service: Service, tmp_path: Path, seed: int
) -> None:
    bench = Bench(service, tmp_path, seed)
    bench.get("/look", what="zero", channel=1)  # begins to listen
    bench.measure(0.0, 0.0)
    zero = kept(bench, what="zero", channel=1)
    assert zero["value"] == pytest.approx(bench.offset_a, abs=MOST * zero["u95"])
    bench.measure(230.0, 3.0)
    found = bench.post("/measure", what="gain", channel=1, reference=3.0, uncertainty=0.01, words="bench meter 34")
    assert found["before"] == pytest.approx(3.0 * bench.gain, rel=5e-4)
    assert found["after"] == pytest.approx(3.0)
    assert found["after_u95"] == pytest.approx(0.01 / 3**0.5 * 1.96, rel=0.02)
    assert found["before_u95"] > found["after_u95"]
    gain = bench.post("/keep")
    assert abs(gain["value"] - 1.0 / bench.gain) < MOST * gain["u95"]
    bench.measure(230.0, 3.0)
    wide = bench.u95("phase_angle_deg")
    angle = kept(bench, what="angle", channel=1, against=0, load="film", words="77 ohm")
    assert angle["value"] == pytest.approx(bench.late_s, abs=MOST * angle["u95"])
    bench.measure(230.0, 2.0, lag_deg=40.0)
    assert bench.reading("current_rms_a") == pytest.approx(2.0, abs=MOST * bench.u95("current_rms_a"))
    assert bench.reading("phase_angle_deg") == pytest.approx(40.0, abs=MOST * bench.u95("phase_angle_deg"))
    assert bench.u95("phase_angle_deg") < 0.1 * wide


def test_what_is_kept_is_told_with_date_reference_and_uncertainty_and_can_be_undone(bench: Bench) -> None:
    bench.get("/look", what="gain", channel=1)
    bench.measure(230.0, 3.0)
    kept(bench, what="gain", channel=1, reference=3.0, uncertainty=0.01, words="bench meter 34")
    bench.measure(230.0, 3.0)
    (volts, amps) = bench.get("")["channels"]
    assert volts["words"] == {"zero": "not calibrated: the board's stated limit holds"} | {
        "gain": "not calibrated: the board's stated limit holds"
    }
    assert amps["words"]["gain"].endswith("against bench meter 34")
    assert [entry["holds"] for entry in amps["entries"]] == [True]
    assert bench.reading("current_rms_a") == pytest.approx(3.0, rel=2e-3)
    undone = bench.post("/undo", what="gain", channel=1)
    assert undone["holds"] is False
    bench.measure(230.0, 3.0)
    assert bench.reading("current_rms_a") == pytest.approx(3.0 * bench.gain, rel=2e-3)
    (entry,) = bench.get("")["channels"][1]["entries"]
    assert entry["undone_utc_s"] is not None
    said = bench.post("/undo", 409, what="gain", channel=1)["detail"]
    assert said == "No gain calibration of line holds that could be undone."


def test_a_second_gain_counts_from_what_the_board_states_and_undo_brings_the_first_back(bench: Bench) -> None:
    bench.get("/look", what="gain", channel=1)
    for reference in (3.0, 2.9):
        bench.measure(230.0, 3.0)
        last = kept(bench, what="gain", channel=1, reference=reference, uncertainty=0.01)
    assert last["value"] == pytest.approx(2.9 / 3.0 / bench.gain, rel=1e-4)
    bench.post("/undo", what="gain", channel=1)
    bench.measure(230.0, 3.0)
    assert bench.reading("current_rms_a") == pytest.approx(3.0, rel=2e-3)


def test_the_live_reading_tells_its_scatter_and_why_it_is_not_fit(bench: Bench) -> None:
    assert bench.get("/look", what="zero", channel=1)["pieces"] == 0
    bench.measure(230.0, 3.0, 1.3)
    look = bench.get("/look", what="zero", channel=1)
    assert 4 <= look["pieces"] <= 6
    assert look["refusal"].startswith("three seconds of line without a gap are needed")
    bench.measure(230.0, 3.0)
    look = bench.get("/look", what="zero", channel=1)
    assert look["refusal"].startswith("line is not at rest: it varies by ")
    gain = bench.get("/look", what="gain", channel=1)
    assert gain["rms"] == pytest.approx(3.0 * bench.gain, rel=1e-3)
    assert 0.0 < gain["scatter"] < 1e-3
    angle = bench.get("/look", what="angle", channel=1, against=0, load="heater")
    assert angle["lead_deg"] == pytest.approx(-360.0 * 50.0 * bench.late_s, abs=0.05)


@pytest.mark.parametrize(
    ("path", "body", "status", "sentence"),
    [
        ("/measure", {"what": "zero", "channel": 1}, 409, "Three seconds of line without a gap are needed"),
        ("/measure", {"what": "gain", "channel": 1}, 409, "A gain needs a reference"),
        ("/measure", {"what": "gain", "channel": 1, "reference": 3.0}, 409, "The reference's uncertainty is missing"),
        ("/measure", {"what": "angle", "channel": 1}, 409, "An angle needs a voltage channel to compare with"),
        ("/measure", {"what": "zero", "channel": 7}, 409, "There is no evenly sampled channel 7 on this board"),
        ("/measure", {"what": "shape", "channel": 1}, 422, "what: "),
        ("/measure", {"what": "zero", "channel": 1, "wrods": ""}, 422, "wrods: there is nothing of this name here"),
        ("/measure", {"what": "gain", "channel": 1, "words": "x" * 121}, 422, "words: "),
        (
            "/measure",
            {"what": "gain", "channel": 1, "words": "a\nb"},
            422,
            "words: the character U+000A cannot be shown",
        ),
        ("/measure", {"what": "gain", "channel": 1, "reference": "three"}, 422, "reference: "),
        ("/measure", {"what": "gain", "channel": 1, "reference": 3.0, "uncertainty": -1.0}, 409, "The reference's unc"),
        ("/keep", {}, 409, "Nothing was measured that could be kept; measure again."),
        ("/undo", {"what": "zero", "channel": 0}, 409, "No zero calibration of supply holds that could be undone."),
    ],
)
def test_what_cannot_be_done_is_answered_by_a_sentence(
    bench: Bench, path: str, body: dict[str, object], status: int, sentence: str
) -> None:
    assert bench.post(path, status, **body)["detail"].startswith(sentence)


def test_half_a_letter_is_refused(bench: Bench) -> None:
    """JSON can say it; no file can hold it."""
    body = b'{"what": "zero", "channel": 1, "words": "\\ud800"}'
    with bench.service.client as client:
        answer = client.post(
            f"{PATH}/measure", content=body, headers={**AUTHORIZED, "Content-Type": "application/json"}
        )
    assert answer.status_code == 422


def test_a_measurement_of_before_another_calibration_cannot_be_kept(bench: Bench) -> None:
    bench.get("/look", what="gain", channel=1)
    bench.measure(230.0, 3.0)
    kept(bench, what="gain", channel=1, reference=3.0, uncertainty=0.01)
    bench.measure(230.0, 3.0)
    bench.post("/measure", what="gain", channel=1, reference=3.0, uncertainty=0.01)
    bench.post("/undo", what="gain", channel=1)
    assert bench.post("/keep", 409)["detail"].startswith("Board or calibration have changed since it was measured")


def test_a_file_damaged_by_hand_is_told_and_nothing_is_kept_over_it(bench: Bench, tmp_path: Path) -> None:
    (tmp_path / "T-1.toml").write_text('[board]\nserial = "T-1"\nage_limit_days = "a year"\n')
    bench.service.rigs.calibrations.load()
    told = bench.get("")
    assert f'{tmp_path}/T-1.toml, line 3: age_limit_days = "a year": this is not a number' in told["refusal"]
    assert told["channels"] == []
    bench.get("/look", what="gain", channel=1)
    bench.measure(230.0, 3.0)
    bench.post("/measure", what="gain", channel=1, reference=3.0, uncertainty=0.01)
    assert "line 3: age_limit_days" in bench.post("/keep", 422)["detail"]


def test_before_the_board_has_described_itself_that_is_told_and_is_no_error(bench: Bench) -> None:
    bench.rig.pipeline = Pipeline(RigSettings("heron-1"))
    told = bench.get("")
    assert (told["described"], told["channels"], told["refusal"]) == (False, [], "")
    assert told["guides"]["gain"]["cautions"]
    assert bench.post("/measure", 409, what="zero", channel=1)["detail"].startswith("The board of heron-1 has not said")


def test_a_file_corrected_by_hand_counts_before_what_is_kept_and_undone(bench: Bench, tmp_path: Path) -> None:
    bench.get("/look", what="gain", channel=1)
    bench.measure(230.0, 3.0)
    kept(bench, what="gain", channel=1, reference=3.0, uncertainty=0.01)
    bench.measure(230.0, 3.0)
    bench.post("/measure", what="gain", channel=1, reference=3.0, uncertainty=0.01)
    path = tmp_path / "T-1.toml"
    by_hand = re.sub("value = .*", "value = 1.1  # by the other meter", path.read_text())
    path.write_text(by_hand)
    assert bench.post("/keep", 409)["detail"].startswith("Board or calibration have changed since it was measured")
    assert path.read_text() == by_hand
    bench.measure(230.0, 3.0)
    assert bench.reading("current_rms_a") == pytest.approx(3.0 * bench.gain * 1.1, rel=2e-3)
    path.write_text(by_hand.replace("1.1 ", "1.2 "))
    assert bench.post("/undo", what="gain", channel=1)["value"] == 1.2
    assert "value = 1.2  # by the other meter" in path.read_text()
    path.write_text("[board\n")
    assert "T-1.toml, line 1: this is not TOML" in bench.post("/undo", 422, what="gain", channel=1)["detail"]
    assert bench.get("")["refusal"].endswith("What was read of it before goes on holding.")
    assert path.read_text() == "[board\n"


def test_cautions_and_steps_come_with_it(bench: Bench) -> None:
    guides = bench.get("")["guides"]
    for guide in guides.values():
        assert guide["cautions"][0].startswith("Slipring only watches")
        assert any("capacitors stay charged" in each for each in guide["cautions"])
        assert guide["steps"]
    assert any("hot enough to burn" in each for each in guides["angle"]["cautions"])
