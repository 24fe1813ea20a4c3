"""The file of a board: written and read back, and what is refused, with its line."""

from dataclasses import replace
from datetime import UTC, datetime
from math import inf

import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.calibration.entry import BoardCalibration, Entry, Stated, What
from server.calibration.text import calibration_text, parse_calibration
from server.config import ConfigError

CHANNEL = Stated("I", "line", "A", 2e-4, 0.0, 5300)
MADE = datetime(2026, 11, 20, 14, 3, 5, tzinfo=UTC)
ENTRY = Entry(What.GAIN, CHANNEL, MADE, 'meter "34"', 1.002, 0.0005, 12.5)
WHOLE = BoardCalibration(
    "SB-0001",
    (
        ENTRY,
        replace(ENTRY, what=What.ZERO, value=-0.01, dof=inf, undone=MADE),
        replace(ENTRY, what=What.ANGLE, value=-2.5e-4, frequency_hz=50.0, against="U (supply)"),
    ),
    730.0,
)
TEXT = calibration_text(WHOLE)

words = st.text(max_size=30).filter(lambda text: "\ud800" not in text)
numbers = st.floats(-1e9, 1e9, allow_nan=False)
made = st.datetimes(datetime(1970, 1, 1), datetime(9999, 12, 31)).map(
    lambda when: when.replace(microsecond=0, tzinfo=UTC)
)
entries = st.builds(
    Entry,
    st.sampled_from([What.ZERO, What.ANGLE]),
    st.builds(Stated, words, words, words, st.floats(1e-9, 1e3), numbers, st.integers(-(10**9), 10**9)),
    made,
    words,
    numbers,
    st.floats(0.0, 1e9),
    st.floats(1.0, 1e9) | st.just(inf),
    st.none() | st.floats(1.0, 1e5),
    words,
    st.none() | made,
)


def test_what_is_written_is_read_back() -> None:
    assert parse_calibration(TEXT, "x.toml") == WHOLE


@given(
    st.builds(BoardCalibration, words.filter(bool), st.lists(entries, max_size=3).map(tuple), st.floats(1.0, 36_525.0))
)
def test_whatever_is_in_it(calibration: BoardCalibration) -> None:
    assert parse_calibration(calibration_text(calibration), "") == calibration


@pytest.mark.parametrize(
    ("right", "wrong", "said"),
    [
        ("value = 1.002", "value = 1,002", "this is not TOML"),
        ("value = 1.002", 'value = "1.002"', 'value = "1.002": this is not a number; write a number without quotes'),
        ("value = 1.002", "value = 100.2", "value = 100.2: this is not possible; write what was there, such as 1.0"),
        ("value = 1.002", "value = nan", "value = nan: this is not a number"),
        ("value = 1.002", "value = " + "9" * 400, "value = 9999"),
        ("value = 1.002", "valeu = 1.002", '"valeu" is not a key; write value.'),
        ("standard = 0.0005", "standard = -1.0", "standard = -1.0: this is not possible"),
        ("dof = 12.5", "dof = 0", "dof = 0: this is not possible; write what was there, such as 14.0, or inf"),
        ("delay_ns = 5300", "delay_ns = 5.5", "delay_ns = 5.5: this is not possible"),
        ("scale = 0.0002", "scale = 0.0", "scale = 0.0: this is not possible"),
        ('what = "zero"', 'what = "nil"', 'what = "nil": there is no such calibration; write zero, gain or angle.'),
        ('what = "angle"', "what = 3", "what = 3: this is not text"),
        ("undone = 2026-11-20T14:03:05Z", "undone = 2026-11-20", "undone = 2026-11-20: this is not a moment in UTC"),
        ("made = 2026-11-20T14:03:05Z", "made = 2026-11-20T14:03:05", "made = 2026-11-20 14:03:05: this is not a mom"),
        ('serial = "SB-0001"', "serial = 7", "serial = 7: this is"),
        ("age_limit_days = 730.0", "age_limit_days = 0", "age_limit_days = 0: this is not possible"),
        ("age_limit_days = 730.0", "age_limit = 730.0", '"age_limit" is not a key; write age_limit_days.'),
    ],
)
def test_a_value_damaged_by_hand_is_refused_with_line_and_what_to_write(right: str, wrong: str, said: str) -> None:
    text = TEXT.replace(right, wrong, 1)
    line = next(number for number, each in enumerate(text.split("\n"), 1) if each.startswith(wrong))
    assert refusal(text).startswith(f"x.toml, line {line}: {said}")


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (TEXT.replace("value = 1.002\n", ""), "x.toml, line 6: value is missing in this entry; write value = ..."),
        (TEXT.replace('serial = "SB-0001"\n', ""), "x.toml, line 2: serial is missing"),
        (TEXT + "[more]\n", f'x.toml, line {TEXT.count(chr(10)) + 1}: "more" is not a key; known are board, entry.'),
        ("", "x.toml: [board] is missing"),
        ("entry = 3\n[board]\nserial = 'x'\n", "x.toml, line 1: entry is no list"),
        ("entry = [3]\n[board]\nserial = 'x'\n", "x.toml: an entry is a value"),
        ("a = " + "[" * 2000, "x.toml: values in it are nested too deeply or too long"),
        ("." * 300, "x.toml, line 1: 300 dots in one line are too many"),
        ("x" * 1_000_001, "x.toml: 1000001 characters are too many"),
    ],
)
def test_a_file_that_is_none_is_refused(text: str, said: str) -> None:
    assert refusal(text).startswith(said)


def refusal(text: str) -> str:
    with pytest.raises(ConfigError) as refused:
        parse_calibration(text, "x.toml")
    return str(refused.value)


def test_the_newest_that_was_not_undone_holds() -> None:
    older, newer = ENTRY, replace(ENTRY, value=1.01)
    assert BoardCalibration("S", (older, newer)).holds(What.GAIN, CHANNEL) is newer
    assert BoardCalibration("S", (older, replace(newer, undone=MADE))).holds(What.GAIN, CHANNEL) is older
    assert BoardCalibration("S", (older, newer)).holding.entries == (newer,)
    assert BoardCalibration("S", (older,)).holds(What.GAIN, replace(CHANNEL, place="auxiliary")) is None
    assert BoardCalibration("S", (older,)).holds(What.ZERO, CHANNEL) is None


@given(st.lists(st.tuples(st.integers(0, len(TEXT)), st.integers(0, 12), st.text(max_size=6)), min_size=1, max_size=3))
def test_whatever_a_hand_does_to_a_file_it_is_read_or_refused(changes: list[tuple[int, int, str]]) -> None:
    text = TEXT
    for at, gone, new in changes:
        text = text[:at] + new + text[at + gone :]
    try:
        again = parse_calibration(text, "x.toml")
    except ConfigError:
        return
    assert parse_calibration(calibration_text(again), "") == again
