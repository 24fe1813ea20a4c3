"""Where sensors go on motors of alternating supply."""

from server.motors.connections.point import CAPACITOR, MAINS, SLIP, Connections, Point, current, pulse, voltage

_SUPPLY = voltage(
    "supply",
    "across the two supply leads at the motor, behind switch and plug",
    "plus end on the line L, other end on N",
    "voltage, frequency, power",
    needed=True,
)
_LINE = current(
    "line",
    "round the line L alone, never round both supply leads, between the probe and the motor",
    "current, power, power factor, run state",
    needed=True,
)
_SHAFT = pulse(SLIP)


def _auxiliary(makes: str) -> Point:
    return current(
        "auxiliary",
        "round the lead of the auxiliary winding, behind the branch",
        makes,
        arrow="arrow towards the winding, away from L",
    )


def _capacitor(makes: str) -> Point:
    return voltage(
        "capacitor",
        "across the two terminals of the capacitor",
        "plus end on the side of the line L, other end on the winding",
        makes,
    )


RUN_CAPACITOR = Connections(
    (
        _SUPPLY,
        _LINE,
        _auxiliary("current of each winding: the main one is line minus auxiliary; angle between the two"),
        _capacitor("with the auxiliary current: capacitance and its loss, and whether both are the right way round"),
        _SHAFT,
    ),
    (MAINS[0], CAPACITOR, *MAINS[1:]),
)

SPLIT_PHASE = Connections(
    (
        _SUPPLY,
        _LINE,
        _auxiliary("when the start switch opened, how long the start lasted, and whether it closed again"),
        voltage(
            "auxiliary",
            "across the auxiliary winding, behind the start switch",
            "plus end on the side of the switch, other end on N",
            "what the winding gets: the voltage that the start switch drops, and that which a running motor induces",
        ),
        _SHAFT,
    ),
    MAINS,
)

CAPACITOR_START = Connections(
    (
        _SUPPLY,
        _LINE,
        _auxiliary("when the start switch opened, the ratio of current before and after, and whether it closed again"),
        _capacitor("with the auxiliary current: capacitance, and whether it was discharged"),
        _SHAFT,
    ),
    (MAINS[0], CAPACITOR, *MAINS[1:]),
)

SHADED_POLE = Connections(
    (
        _SUPPLY,
        _LINE,
        pulse(
            "speed, slip and stall: of this type the current is nearly the same running and held, so nothing else tells"
        ),
    ),
    MAINS,
)

SYNCHRONOUS = Connections(
    (
        _SUPPLY,
        _LINE,
        _auxiliary("current of each winding, and which way the motor was fed"),
        _capacitor("with the auxiliary current: capacitance and its loss, and whether both are the right way round"),
        pulse("whether it runs in step with the supply, and when it lost it"),
    ),
    (MAINS[0], CAPACITOR, *MAINS[1:]),
)


def _line_voltage(line: str, makes: str, *, needed: bool) -> Point:
    return voltage(line, f"from {line} to the star point of the probes", f"plus end on {line}", makes, needed=needed)


def _line_current(line: str, makes: str, *, needed: bool) -> Point:
    where = f"round the conductor of {line}, the same one as the probe of {line}"
    return current(line, where, makes, needed=needed)


THREE_PHASE = Connections(
    (
        _line_voltage("L1", "voltage, frequency, power of L1", needed=True),
        _line_voltage("L2", "phase order of the supply", needed=True),
        _line_voltage(
            "L3", "power of all three, unbalance of the supply, and a probe that is turned round", needed=False
        ),
        _line_current("L1", "current, power, power factor, run state", needed=True),
        _line_current("L2", "the third current too, as there is no neutral; unbalance, phase order", needed=True),
        _line_current("L3", "the sum of three, which must be nothing: a check of all sensors, or a leak", needed=False),
        _SHAFT,
    ),
    MAINS,
)

UNIVERSAL = Connections(
    (
        voltage(
            "motor",
            "across the motor's own leads, behind a speed control",
            "plus end on the lead that comes from the line L, other end on the one from N",
            "voltage, power",
            needed=True,
        ),
        current(
            "motor",
            "round one lead of the motor, behind a speed control",
            "current, power, commutator ripple and noise, run state",
            needed=True,
        ),
        voltage(
            "supply",
            "across the two supply leads, before a speed control",
            "plus end on the line L, other end on N",
            "what the speed control leaves of the supply; a poor contact",
        ),
        current("line", "round the line L, before a speed control", "what the supply sees: power factor, harmonics"),
        pulse("speed, and by it the number of commutator bars from the ripple"),
    ),
    (
        *MAINS[:3],
        "A universal motor without load runs away and can burst: run it in its machine, guarded.",
        *MAINS[3:],
    ),
)
