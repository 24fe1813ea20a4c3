"""Last values of trends that are only a bound."""

from pathlib import Path

import pytest

from server.readings import Confidence, Instant, Reading
from server.runs.log.newest import trends_with_bounds
from server.runs.log.taken import Said, Taken
from tests.server.runs.log.logs import CLOCK, OPEN, Stepped

LATE = "no edge for 12 s: at most this"
CLIPPED = "at least this much: clipped at \u00b110 A"


def taken(
    board_s: float, confidence: Confidence = Confidence.DOUBTFUL, said: tuple[str, str] = (LATE, CLIPPED)
) -> Taken:
    reasons = said if confidence is Confidence.DOUBTFUL else ("", "")
    readings = (
        Reading("speed_rpm", -12.0, confidence, reasons[0]),
        Reading("slip", 0.99, confidence, reasons[0]),
        Reading("current_rms_a", 8.0, confidence, reasons[1], "U"),
        Reading("voltage_rms_v", 230.0),
    )
    its = tuple(Instant(k, k + 1, board_s + 0.2 * k, 0.2, readings) for k in range(5))
    return Taken(None, (Said(its, (), (), None, CLOCK),))


IDS = ("speed_rpm", "slip", "current_rms_a.U", "voltage_rms_v", "frequency_hz")


@pytest.mark.parametrize("columns", [4, 40])
def test_the_last_value_of_a_held_motor_says_which_way_it_is_a_bound(tmp_path: Path, columns: int) -> None:
    log = Stepped(tmp_path / "run")
    log.begin()
    for second in range(60):
        log.give(taken(float(second), Confidence.GOOD if second < 50 else Confidence.DOUBTFUL))
    log.written()

    def bounds(to_s: float) -> list[str]:
        span = OPEN.utc_s, OPEN.utc_s + to_s
        found = trends_with_bounds([tmp_path / "run"], IDS, span, columns)
        return [found.bands[each].bound.strip() for each in IDS]

    assert bounds(60.0) == ["\u2264", "\u2265", "\u2265", "", ""]
    assert bounds(32.0) == [""] * 5, "it turned then"
    log.give(taken(60.0, said=("samples are missing", "samples are missing")))
    log.give(taken(61.0, Confidence.GOOD))
    log.close()
    assert bounds(62.0) == [""] * 5, "it turns again"
