"""Every reason for a doubtful or absent reading is made from wire bytes here, or it is said where else it is tested.

A new reason asks for a world that makes it (worlds_of_reasons.py). What is made goes on to what the page is sent.
"""

from functools import lru_cache

from server.live.view import View
from server.pipeline import Output
from server.quantities import NO_LIMITS
from server.readings import Confidence
from tests.house.reasons import reasons
from tests.server.pipelines import run
from tests.server.worlds_of_reasons import worlds

# Words that stand in budgets and in the catalogue, and why a ± is not known (unknown.py): no reasons of readings.
OTHER_WORDS = (
    *("limits of the channels", "peak between two samples", "noise beside the lines", "the positive sequence"),
    *("size by the frequency", "peak that noise lifts"),
    *("winding warmer than on the plate", "delay between the channels", "squares of the parts"),
    *("gains and delays of the channels", "gains of the channels", "delays between the channels"),
    *("whole cycles by the frequency", "rounding to the clock's ticks", "scatter of the edges"),
    *("scatter of a sensor (common practice)", "magnets that are not even (common practice)"),
    *("where the sensors sit (common practice)", "speed changing within the window"),
    *("one count at each end", "gains of the channels", "offsets of the channels", "half turns that differ"),
    *("lines that differ", "brushless: the voltages of two phases or one between lines"),
    *("fall towards the channel's upper corner", "a voltage channel", "a current channel"),
    "lines at each tenth of the fundamental at 50 Hz, twelfth at 60 Hz; once a second, not smoothed",
    "root of the summed squares of orders 2 to 40, noise taken out, over the fundamental",
    "voltage, current, speed and the winding resistance of the plate",
    "angle by which the fundamental leads that of the main voltage; without a voltage, of the first current",
    *("voltage and current of the same conductor, sampled together", "six-step table of three Hall sensors"),
    *("three currents, or two of a motor without neutral", "three voltages against neutral or an artificial star"),
    "three voltages and three currents, or two of a motor without neutral",
    *("the board states no limit for the", "the board states no limit for the delay of"),
    "it is made of other channels, and shares what these are off by: without a fundamental nothing tells how",
    *("what makes it doubtful cannot be put in figures", "it is a word, not a figure", "there is no value"),
    "no budget is made for this reading, or this window does not tell its noise",
    "too few cycles in the window to tell noise from harmonics",
    *("three Hall signals and the currents of two phases", "time between two looks at the inputs"),
)
# What no bytes make: our own faults (tests/server/test_watch.py; those of readings are followed to the page by
# `run.py prove reasons`), and guards that stand behind others.
ELSEWHERE = (
    *("our own fault: computing it failed (", "our own fault: computing the", "readings of the shaft"),
    *("readings of group", "check of the connections", "events of the kind", "visits of the Hall states"),
    "readings of the commutation",
    "the last edges did not come in turn",  # a speed without doubt has two edges behind it
    "the last edges came at one and the same tick",  # hall/test_same_tick.py; a stream's times are made to rise here
    "only two phase currents are measured: the third is minus their sum",  # verdicts/test_phase_currents.py
    "no alternating voltage is measured",  # behind the check that a voltage is there
    "no speed is known",  # a motor that has constants always has a speed, absent at least
    "less than one and a half cycles in the window",  # a fundamental has two
)


def made_by_worlds() -> list[str]:
    """The phrases that some world must make."""
    return [part for part in reasons() if part not in (*OTHER_WORDS, *ELSEWHERE)]


@lru_cache
def said() -> tuple[Output, ...]:
    return tuple(part for data in worlds() for part in run(data))


def test_every_reason_is_made_from_wire_bytes_or_said_where_else() -> None:
    told = {reading.reason for part in said() for each in part.instants for reading in each.readings}
    told |= {str(each.value) for part in said() for instant in part.instants for each in instant.readings}
    without = {part: where for part, where in reasons().items() if not any(part in reason for reason in told)}
    new = {part: where for part, where in without.items() if part not in (*OTHER_WORDS, *ELSEWHERE)}
    assert new == {}, "make a world for them in worlds_of_reasons.py, or say above what else they are"
    assert set(OTHER_WORDS) | set(ELSEWHERE) <= set(reasons())  # none of them is left over from words of before


def test_readings_that_are_no_numbers_are_known_as_such_and_can_have_no_limits() -> None:
    kinds: dict[str, str] = {}
    for reading in (reading for part in said() for instant in part.instants for reading in instant.readings):
        if isinstance(reading.value, str | tuple):
            kinds[reading.key] = "a word" if isinstance(reading.value, str) else "a list"
    assert kinds == NO_LIMITS


def test_the_page_is_sent_the_same_words() -> None:
    words: set[str] = set()
    for part in said():
        view = View("bench")
        view.take(part, part.clock)
        for instant in part.instants[-1:]:
            sent = view.readings(part.clock.utc_s(instant.board_s))
            for reading in instant.readings:
                record = sent[reading.id]
                if reading.confidence is not Confidence.GOOD:
                    assert record["confidence"] == reading.confidence
                    assert record["reason"] == reading.reason
                    words.add(reading.reason)
    assert len(words) > 60
