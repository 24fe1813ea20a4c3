"""Why nothing is known of what a reading may be off by: said in words, never left out."""

from firmware_protocol import Role
from server.quantities import why_unknown
from server.readings import Confidence, Reading, Uncertainty, absent
from server.samples import Channel, Part

VOLTS = Channel(0, Role.VOLTAGE, "U supply", "supply", "V", -400.0, 400.0)
AMPS = Channel(1, Role.CURRENT, "I line", "line", "A", -5.0, 5.0)
LIMIT = Part(0.01)
STATED = Channel(
    *(2, Role.CURRENT, "I auxiliary", "auxiliary", "A", -5.0, 5.0), gain=LIMIT, offset_error=LIMIT, delay_error=LIMIT
)


def test_a_limit_that_the_board_does_not_state_is_named_by_the_channel_that_the_reading_is_of() -> None:
    said = why_unknown(Reading("current_rms_a", 0.5), (VOLTS, AMPS))
    assert said == "the board states no limit for the gain and offset of I line"
    assert why_unknown(Reading("voltage_rms_v", 230.0), (VOLTS, AMPS)).endswith("of U supply")
    assert why_unknown(Reading("active_power_w", 100.0), (STATED, AMPS)).endswith("of I line")


def test_a_reading_at_a_place_is_of_the_channel_there() -> None:
    said = why_unknown(Reading("current_rms_a", 0.5, place="auxiliary"), (VOLTS, AMPS, STATED))
    assert said == "no budget is made for this reading, or this window does not tell its noise"


def test_words_doubts_and_what_is_absent_say_so() -> None:
    assert why_unknown(Reading("run_state", "running"), ()) == "it is a word, not a figure"
    assert why_unknown(absent("slip", "no input gives the speed"), ()) == "there is no value"
    doubted = Reading("current_rms_a", 0.5, Confidence.DOUBTFUL, "2 of 4000 samples missing")
    assert why_unknown(doubted, (AMPS,)) == "what makes it doubtful cannot be put in figures"


def test_nothing_is_said_where_it_is_known() -> None:
    known = Reading("current_rms_a", 0.5, uncertainty=Uncertainty(0.49, 0.51, 1.96, (("noise", 0.005),)))
    assert why_unknown(known, (AMPS,)) == ""
