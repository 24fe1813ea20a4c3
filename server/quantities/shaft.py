"""What the edges say, with its uncertainty; computed in `server.hall`."""

from server.config import Plate
from server.hall import edge_readings, from_counts
from server.quantities.best_speed import SPEED_KEYS
from server.quantities.quantity import Quantity
from server.quantities.reasons import given
from server.quantities.uncertainty import CLOCK, combined
from server.readings import Confidence, Reading, absent, doubtful
from server.samples import CountTrain, EdgeTrain

COUNTED = "counter_speed_rpm"
_TABLE = "six-step table of three Hall sensors"
_HALLED = ("brushless",)
SHAFT = (
    Quantity(
        *("speed_rpm", "n", "speed", "r/min", 0),
        "turns over their own time; the best of what edges, a counter, ripple, slots and EMF say, which `speed_source` "
        "names",
        *("ISO 80000-3, 3-17 (from memory)", "Hall signals, a pulse sensor, a counter, or a current that tells it"),
    ),
    Quantity(
        *("speed_source", "", "speed by", "", 0),
        *("what the speed was taken from, and over which stretch", "ours", "a speed"),
    ),
    Quantity(
        *("edge_speed_rpm", "n", "speed from edges", "r/min", 1),
        "over one period; an electrical turn, which is blind to where sensors sit; a mechanical turn, blind to uneven "
        "magnets too; a least squares line through all edges of the window with an offset for each place in the turn; "
        "the same with offsets learned from up to eight steady turns before",
        *("Brown, Schneider and Mulligan, IEEE Trans. Ind. Electron. 39 (1992), abstract; the fit is ours", "edges"),
    ),
    Quantity(
        *(COUNTED, "n_c", "speed from a counter", "r/min", 1),
        "60 x pulses / (pulses in a turn x time between the last pulses of two counts), over the window's counts",
        *("common practice: reciprocal counting", "a counter input whose pulses in a turn the board says"),
    ),
    Quantity(
        *("angular_acceleration_rad_s2", "α", "angular acceleration", "rad/s²", 1),
        "change of the speed within the window: from the fit over two turns or more, else from the first and last turn",
        *("ISO 80000-3, 3-13 (from memory)", "edges"),
    ),
    Quantity(
        *("direction", "", "direction", "", 0),
        *("forward is the order of sectors 1 2 3", "common practice", "three Hall signals", _HALLED),
    ),
    Quantity(
        *("hall_state", "", "Hall state", "", 0),
        *("levels of C B A as a binary number", "common practice", "three Hall signals", _HALLED),
    ),
    Quantity("sector", "", "sector", "", 0, _TABLE, "common practice", "three Hall signals", _HALLED),
    Quantity(
        *("electrical_deg", "ϑ_e", "electrical angle", "°", 0),
        *("last edge plus speed x time, held at the next boundary", "common practice", "three Hall signals", _HALLED),
    ),
    Quantity(
        *("mechanical_deg", "ϑ", "angle of the shaft", "°", 0),
        "since the one pulse of a turn, or of a single pole pair the electrical angle, by speed x time",
        *("common practice", "one pulse a turn, or Hall signals of one pole pair"),
    ),
    Quantity("commutation_valid", "", "state order", "", 0, _TABLE, "common practice", "three Hall signals", _HALLED),
    Quantity(
        *("steps_in_order_percent", "", "steps in order", "%", 0),
        "share of the steps from state to state that the table knows, over the window, at least over the last"
        " electrical turn",
        *("common practice", "three Hall signals", _HALLED),
    ),
    Quantity(
        *("state_order", "", "states as they came", "", 0),
        *("at most the last six Hall states", "common practice", "three Hall signals", _HALLED),
    ),
    Quantity(
        *("electrical_frequency_hz", "f_e", "electrical frequency", "Hz", 1),
        *("pole pairs x speed / 60", "common practice", "three Hall signals", _HALLED),
    ),
)


def shaft_readings(
    train: EdgeTrain, first_tick: int, end_tick: int, plate: Plate, stopped_rpm: float = 5.0
) -> list[Reading]:
    """`edge_readings`, each with its uncertainty where that is known: a good one of a board that states its clock's."""
    found = edge_readings(train, first_tick, end_tick, plate, stopped_rpm)
    clock = train.clock
    if clock is None:
        return found.readings
    readings = []
    for reading, budget in zip(found.readings, found.budgets, strict=True):
        if budget and isinstance(reading.value, float) and reading.confidence is Confidence.GOOD:
            squared = 2.0 if reading.key == "angular_acceleration_rad_s2" else 1.0  # per second per second
            parts = [*budget, (CLOCK, squared * clock.standard * abs(reading.value), clock.dof)]
            uncertainty = combined(reading.value, parts)
            reading = given(reading.key, reading.value, reading.place, uncertainty=uncertainty)
        readings.append(reading)
    return readings


def counted_speed(train: CountTrain, first_tick: int, end_tick: int, stopped_rpm: float = 5.0) -> Reading:
    """`counter_speed_rpm` of the window between these ticks; its uncertainty where the board states its clock's."""
    estimate, clock = from_counts(train, first_tick, end_tick, stopped_rpm), train.clock
    if estimate.rpm is None:
        return absent(COUNTED, estimate.reason)
    parts = [(what, estimate.rpm * part, dof) for what, part, dof in estimate.parts]
    if estimate.reason:
        return doubtful(Reading(COUNTED, estimate.rpm), estimate.reason, estimate.doubt)
    if not parts or clock is None:
        return Reading(COUNTED, estimate.rpm)
    parts.append((CLOCK, clock.standard * estimate.rpm, clock.dof))
    return given(COUNTED, estimate.rpm, uncertainty=combined(estimate.rpm, parts, 0.0))


def speeds_by_inputs(shaft: list[Reading]) -> tuple[Reading | None, Reading | None, Reading | None]:
    """The speed by edges, over which of them, and the speed by a counter, as they are among these readings."""
    speed, source, counted = (next((each for each in shaft if each.key == key), None) for key in (*SPEED_KEYS, COUNTED))
    return speed, source, counted
