"""Three lines: which voltage and current belong together, in which order, which is turned round, what adds up. Pure."""

from cmath import exp, pi

from server.connection.finding import Correctness, Finding
from server.connection.lines import Lines, lines_of
from server.connection.moment import RUN_IT, Moment
from server.connection.pairing import Pairing, pairing_findings
from server.connection.sums import ADDS_UP, DOES_NOT, sum_of
from server.connection.wirings import Wiring, angles_deg, fitting, gives_back
from server.connection.words import figure
from server.motors import MotorType, Supply
from server.motors.connections import Sensor
from server.quantities.analysis import Analysis

# Where the angle of each line of a machine lies that takes power: an induction machine never gives the reactive power
# that it needs; of others the middle is that of a current in phase. Ten degrees more for sensors that turn the angle.
_INDUCTION_DEG = (-10.0, 95.0)
_OTHERS_DEG = (-55.0, 65.0)


def three_findings(
    a: Analysis, motor: MotorType, moment: Moment, before: tuple[Wiring, ...]
) -> tuple[list[Finding], tuple[Wiring, ...]]:
    """Of a motor with three phases; empty where its board measures too few, the sum alone without two voltages.

    `before`: the wirings that fitted the windows before this one; the second value are those that fit this one too, or
    this one alone where none does. A start passes through many angles, and leaves few.
    """
    lines = lines_of(a, motor)
    if lines is None:
        return [], before
    silence = lines.silence if moment.driven else "it did not run"
    if len(lines.voltages) < 2:
        return _current_sum(lines, silence), before
    voltages, probes = _probes(lines, silence)
    pairing = _paired(lines, voltages, silence, motor, moment, before)
    findings = [*probes, *_current_sum(lines, silence), *pairing_findings(pairing, moment)]
    return findings, before if silence else pairing.fits


def _paired(
    lines: Lines,
    voltages: tuple[complex, complex, complex],
    silence: str,
    motor: MotorType,
    moment: Moment,
    before: tuple[Wiring, ...],
) -> Pairing:
    taken, currents = tuple(lines.currents), tuple(lines.currents.values())
    if silence:
        return Pairing(lines.names, taken, silence)
    commutated = motor.supply is Supply.DIRECT
    found = fitting(voltages, currents, taken, *(_OTHERS_DEG if commutated else _INDUCTION_DEG))
    found = [wiring for wiring in found if wiring in before] or found
    angles = angles_deg(voltages, currents, taken)
    back = not moment.takes and gives_back(angles)
    orders = _order(voltages, lines.names), _order(_three(lines.currents), lines.names)
    three = len(lines.voltages) == 3
    return Pairing(lines.names, taken, "", tuple(found), back, tuple(angles), orders, three, commutated)


def _probes(lines: Lines, silence: str) -> tuple[tuple[complex, complex, complex], list[Finding]]:
    """The three voltages as they are once a probe that is turned round has been turned, and what is said of each."""
    volts = lines.all_voltages
    names = {line: lines.names[line] for line in lines.voltages}
    if silence:
        text = f"Which way round it is shows in the run: {silence}."
        return volts, [_probe(name, Correctness.UNKNOWN, text, RUN_IT) for name in names.values()]
    if len(names) == 2:
        return volts, []
    added = sum_of(volts)
    told = f"The three voltages added up to {figure(100 * added.left)} % of their mean"
    if added.turned is not None:
        name = lines.names[added.turned]
        text = f"{told}, with that of {name} turned round to nothing. Are the ends of its probe exchanged?"
        wrong = Finding(
            *(
                "probe",
                Sensor.VOLTAGE,
                name,
                Correctness.WRONG,
                text,
                f"Exchange the two ends of the probe of {name}.",
                True,
            ),
            doubt=f"the voltage of {name} seems turned round",
            doubts=(name, ""),
        )
        turned = tuple(-each if line == added.turned else each for line, each in enumerate(volts))
        rest = [
            _probe(name, Correctness.RIGHT, f"{told}; this one fits.")
            for line, name in names.items()
            if line != added.turned
        ]
        return (turned[0], turned[1], turned[2]), [wrong, *rest]
    if added.left > DOES_NOT:
        change = "Let all three probes have the same star point, and each its own line."
        return volts, [_probe(name, Correctness.UNKNOWN, f"{told}.", change) for name in names.values()]
    return volts, [_probe(name, Correctness.RIGHT, f"{told}.", sure=True) for name in names.values()]


def _probe(name: str, verdict: Correctness, text: str, change: str = "", *, sure: bool = False) -> Finding:
    return Finding("probe", Sensor.VOLTAGE, name, verdict, text, change, sure)


def _current_sum(lines: Lines, silence: str) -> list[Finding]:
    """Without neutral three currents add up to nothing, as far as the sensors agree."""
    if len(lines.currents) != 3:
        return []
    if silence:
        return [_sum(Correctness.UNKNOWN, f"What the three currents add up to shows in the run: {silence}.", RUN_IT)]
    amps = _three(lines.currents)
    added = sum_of(amps)
    told = f"The three currents added up to {figure(abs(sum(amps)))} A, {figure(100 * added.left)} % of their mean"
    if added.left <= ADDS_UP or abs(sum(amps)) < 3 * lines.least_a:
        return [_sum(Correctness.RIGHT, f"{told}: no more than sensors disagree.")]
    if added.turned is not None:
        name = lines.names[added.turned]
        return [
            _sum(
                Correctness.WRONG,
                f"{told}; with that of {name} turned round they would add up to nothing.",
                f"Turn the current sensor of {name} round.",
            )
        ]
    if added.left > DOES_NOT:
        change = "Look whether each sensor is round its own conductor alone, and whether ranges and scales are right."
        return [_sum(Correctness.WRONG, f"{told}.", change)]
    change = (
        "A zero and gain calibration tells sensors that disagree from a current that leaks or a neutral that is used."
    )
    return [_sum(Correctness.UNKNOWN, f"{told}: more than sensors usually disagree.", change)]


def _sum(verdict: Correctness, text: str, change: str = "") -> Finding:
    return Finding("current_sum", "", "", verdict, text, change, sure=True)


def _three(phasors: dict[int, complex]) -> tuple[complex, complex, complex]:
    total = sum(phasors.values())
    one, two, three = (phasors.get(line, -total) for line in range(3))
    return one, two, three


def _order(phasors: tuple[complex, complex, complex], names: tuple[str, ...]) -> str:
    """In which order they peak, by the larger of their two sequences (Fortescue 1918)."""
    a = exp(2j * pi / 3)
    positive, negative = (abs(phasors[0] + f * phasors[1] + f * f * phasors[2]) for f in (a, a.conjugate()))
    one, two, three = names
    return f"{one} {two} {three}" if positive >= negative else f"{one} {three} {two}"
