"""Files with their descriptions: what is read, and what a person is told when something is wrong."""

import wave
from collections.abc import Callable
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest

from firmware_protocol import InputKind, Role, SampleKind
from simulator.recorded_files import read_file
from simulator.recording import Recording, RecordingError
from simulator.recordings import read_recording

CHANNEL = """
[[channel]]
data = "volts"
role = "voltage"
unit = "V"
low = -400.0
high = 400.0
rate_hz = 1000
"""


@pytest.fixture
def npz(tmp_path: Path) -> Callable[..., Path]:
    """Writes a file of arrays and its description beside it; gives the file."""

    def write(description: str, **arrays: object) -> Path:
        path = tmp_path / "test.npz"
        np.savez(path, **arrays)  # type: ignore[arg-type]  # anything that numpy turns into an array
        path.with_suffix(".toml").write_text(description, encoding="utf-8")
        return path

    return write


def test_a_full_description_is_understood(npz: Callable[..., Path]) -> None:
    path = npz(
        """
        name = "slipway pump"
        serial = "PL-0009"
        start_s = 0.0

        [motor]
        name = "slipway pump"
        plate = { voltage_v = 400.0, pole_pairs = 2 }

        [[channel]]
        data = "currents"
        column = 1
        factor = 10.0
        offset = 0.5
        name = "I L2"
        role = "current"
        place = "L2"
        unit = "A"
        low = -20.0
        high = 20.0
        rate_hz = "rate"
        ac_coupled = true
        delay_s = 3e-6
        corner_high_hz = 5000

        [[channel]]
        data = "oil"
        role = "temperature"
        unit = "degC"
        low = 0
        high = 120
        times = "t"
        interval_max_s = 12.0
        kind = "mean"
        kind_s = 1.0

        [[input]]
        name = "shaft"
        kind = "pulse"
        pulses_per_turn = 2
        inverted = true

        [edges]
        times = "edge_times_s"
        states = "edge_states"
        levels_before = 1
        """,
        currents=np.arange(12).reshape(6, 2),
        rate=np.float64(2000.0),
        oil=np.array([50.0, 51.0]),
        t=np.array([0.0, 10.0]),
        edge_times_s=np.array([0.5, 1.0]),
        edge_states=np.array([0, 1]),
    )
    got = read_recording(path)
    current, oil = got.channels
    assert (got.name, got.serial, got.start_s) == ("slipway pump", "PL-0009", 0.0)
    assert got.plate == '[motor]\nname = "slipway pump"\n\n[motor.plate]\nvoltage_v = 400.0\npole_pairs = 2\n'
    assert (current.name, current.role, current.place, current.unit) == ("I L2", Role.CURRENT, "L2", "A")
    assert current.values.tolist() == [10.5, 30.5, 50.5, 70.5, 90.5, 110.5]
    assert (current.rate_hz, current.ac_coupled, current.delay_s) == (2000.0, True, 3e-6)
    assert (oil.rate_hz, oil.interval_max_s, oil.kind, oil.kind_s) == (None, 12.0, SampleKind.MEAN, 1.0)
    assert (got.inputs[0].kind, got.inputs[0].pulses_per_turn, got.inputs[0].inverted) == (InputKind.PULSE, 2, True)
    assert (got.edge_times_s.tolist(), got.edge_states.tolist(), got.levels_before) == ([0.5, 1.0], [0, 1], 1)


def test_a_plate_may_be_text_in_the_file(npz: Callable[..., Path]) -> None:
    path = npz('plate = "note"\n' + CHANNEL, volts=np.zeros(3), note=np.array('[motor]\nname = "x"\n'))
    assert read_recording(path).plate == '[motor]\nname = "x"\n'


def test_a_rate_may_be_a_fraction(npz: Callable[..., Path]) -> None:
    path = npz(CHANNEL.replace("1000", '"1000/3"'), volts=np.zeros(3))
    assert read_recording(path).channels[0].rate_hz == Fraction(1000, 3)


def test_a_description_may_stand_elsewhere(npz: Callable[..., Path], tmp_path: Path) -> None:
    path = npz("", volts=np.zeros(3))
    other = tmp_path / "other.toml"
    other.write_text(CHANNEL)
    assert read_recording(path, other).name == "test"


def _wave(path: Path, width: int, channels: int, raw: bytes) -> Recording:
    with wave.open(str(path), "wb") as file:
        file.setnchannels(channels)
        file.setsampwidth(width)
        file.setframerate(8000)
        file.writeframes(raw)
    path.with_suffix(".toml").write_text(
        "".join(
            f'[[channel]]\ndata = {k}\nfactor = 10.0\nrole = "current"\nunit = "A"\nlow = -10.0\nhigh = 10.0\n'
            for k in range(1, channels + 1)
        )
    )
    return read_recording(path)


@pytest.mark.parametrize(
    ("width", "raw"),
    [
        (1, bytes([128, 192, 0, 64])),  # 8 bits are without sign, silence is 128 (as in the RIFF format)
        (2, np.array([0, 16_384, -32_768, -16_384], "<i2").tobytes()),
        (3, b"\0\0\0" + b"\0\0\x40" + b"\0\0\x80" + b"\0\0\xc0"),
        (4, np.array([0, 2**30, -(2**31), -(2**30)], "<i4").tobytes()),
    ],
)
def test_a_wav_file_of_any_width_is_a_share_of_full_scale_times_the_factor(
    tmp_path: Path, width: int, raw: bytes
) -> None:
    got = _wave(tmp_path / "hum.wav", width, 2, raw)
    assert [channel.values.tolist() for channel in got.channels] == [[0.0, -10.0], [5.0, -5.0]]
    assert {channel.rate_hz for channel in got.channels} == {8000.0}


def test_a_csv_file_is_read_by_the_names_of_its_columns(tmp_path: Path) -> None:
    path = tmp_path / "bench.csv"
    path.write_text("t,volts,remark\n0.0,1.5,\n0.5,-2e1,lamp on\n", encoding="utf-8-sig")
    text = CHANNEL.replace("rate_hz = 1000", 'times = "t"\ninterval_max_s = 1')
    path.with_suffix(".toml").write_text(text)
    channel = read_recording(path).channels[0]
    assert channel.values.tolist() == [1.5, -20.0]
    assert channel.times_s is not None
    assert channel.times_s.tolist() == [0.0, 0.5]


@pytest.mark.parametrize(
    ("description", "told"),
    [
        (CHANNEL.replace('"volts"', '"vols"'), r"holds no 'vols'; the nearest is 'volts'"),
        (CHANNEL.replace("role", "rolle"), r"channel 1: there is no key 'rolle'; the nearest is 'role'"),
        (CHANNEL.replace('"voltage"', '"volt"'), r"role is one of voltage, current, .*, not 'volt'"),
        (CHANNEL.replace("low = -400.0", ""), r"test.toml, channel 1: low is missing"),
        (CHANNEL.replace("-400.0", '"-400"'), r"low must be a number"),
        (CHANNEL + "gain_limit = nan\n", r"gain_limit must be 0 or more, not nan"),
        (CHANNEL + "noise_rms = -1.0\n", r"noise_rms must be 0 or more, not -1"),
        (CHANNEL.replace("-400.0", "500.0"), r"the range 500 to 400 V is none"),
        (CHANNEL.replace("rate_hz = 1000", ""), r"needs either a rate in Hz or an array of times"),
        (CHANNEL + 'times = "volts"', r"needs either a rate in Hz or an array of times"),
        (CHANNEL.replace("rate_hz = 1000", 'times = "volts"'), r"needs interval_max_s"),
        (CHANNEL.replace("rate_hz = 1000", 'times = "volts"\ninterval_max_s = 1'), r"times do not rise"),
        (CHANNEL.replace("1000", "-1"), r"a rate of -1 Hz is none"),
        (CHANNEL.replace("1000", '"volts"'), r"volts has shape \(3,\), one number was expected"),
        (CHANNEL.replace('"volts"', '"square"'), r"square has shape \(3, 2\), rows are samples|say .*column"),
        (CHANNEL.replace('"volts"', '"square"\ncolumn = 2'), r"square has columns 0 to 1, not 2"),
        (CHANNEL + "column = 0", r"it has no columns, leave `column` away"),
        (CHANNEL.replace('"volts"', '"words"'), r"words in test.npz is not all numbers"),
        (CHANNEL.replace('"volts"', '"holes"'), r"value 1 is nan; cut it out or fill it"),
        (CHANNEL.replace('"volts"', '"deep"'), r"shape \(1, 1, 1\)"),
        ("", r"no channel and no input"),
        ('channel = "volts"', r"write each channel under a line \[\[channel\]\]"),
        ("[[channel]\n", r"test.toml: .*line 1"),
        ('serial = 3\n' + CHANNEL, r"serial must be text in quotes"),
        ('[[input]]\nname = "n"\nkind = "counter"\n', r"the player plays edges; a counter has none"),
        (CHANNEL + '[edges]\ntimes = "volts"\nstates = "volts"', r"no input is described"),
        ('plate = "volts"\n' + CHANNEL, r"volts in test.npz is not one text"),
    ],
)  # fmt: skip
def test_a_wrong_description_is_refused_with_what_to_write(
    npz: Callable[..., Path], description: str, told: str
) -> None:
    path = npz(
        description,
        volts=np.zeros(3),
        square=np.zeros((3, 2)),
        words=np.array(["a", "b"]),
        holes=np.array([1.0, np.nan]),
        deep=np.zeros((1, 1, 1)),
    )
    with pytest.raises(RecordingError, match=told):
        read_recording(path)


def test_a_file_that_is_not_there_or_not_of_its_kind_is_refused(tmp_path: Path, npz: Callable[..., Path]) -> None:
    path = npz(CHANNEL, volts=np.zeros(3))
    with pytest.raises(RecordingError, match=r"there is no file .*; the nearest is test.npz"):
        read_recording(path.with_name("tset.npz"))
    with pytest.raises(RecordingError, match=r"the player reads .npz, .wav, .csv"):
        read_recording(path.with_suffix(".toml"))
    for ending in ("npz", "wav"):
        broken = tmp_path / f"broken.{ending}"
        broken.write_bytes(b"nothing of the kind")
        with pytest.raises(RecordingError, match=f"broken.{ending} could not be read as {ending}"):
            read_recording(broken)
    path.with_suffix(".toml").unlink()
    with pytest.raises(RecordingError, match=r"no description .*test.toml.*test.npz holds: volts \(3,\)"):
        read_recording(path)


def test_an_array_that_could_run_code_is_not_opened(tmp_path: Path) -> None:
    path = tmp_path / "pickled.npz"
    np.savez(path, volts=np.array([{"a": 1}], dtype=object))
    path.with_suffix(".toml").write_text(CHANNEL)
    with pytest.raises(RecordingError, match="could not be read"):
        read_recording(path)


@pytest.mark.parametrize(("mark", "name"), [(";", "semicolons"), ("\t", "tabs")])
def test_a_table_with_other_separators_is_told_so(tmp_path: Path, mark: str, name: str) -> None:
    path = tmp_path / "bench.csv"
    path.write_text(f"time_s{mark}u\n0{mark}1,5\n")
    with pytest.raises(RecordingError, match=rf"cells stand between {name}; write commas, and points in numbers"):
        read_file(path)


def test_a_csv_row_with_too_few_cells_or_words_for_numbers_is_named(tmp_path: Path) -> None:
    path = tmp_path / "bench.csv"
    path.with_suffix(".toml").write_text(CHANNEL)
    path.write_text("t,volts\n0.0,1.5\n0.5\n")
    with pytest.raises(RecordingError, match="row 3: 1 cells, the first row has 2 names"):
        read_recording(path)
    path.write_text("t,volts\n0.0,about one\n")
    with pytest.raises(RecordingError, match="about one"):
        read_recording(path)
    path.write_text("t,volts\n")
    with pytest.raises(RecordingError, match="at least one of numbers"):
        read_recording(path)
