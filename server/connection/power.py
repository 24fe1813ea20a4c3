"""Which way round a current sensor is, by the sign of its power, and what else one pair tells. Pure."""

from cmath import phase
from math import degrees

from server.connection.finding import Correctness, Finding
from server.connection.moment import RUN_IT, Moment
from server.connection.words import capital, degrees_of, figure, name_of, of_row, row_name, sensor_of
from server.motors import MotorType, Supply
from server.motors.connections import Sensor
from server.quantities.analysis import Analysis
from server.quantities.layout import Pair, Row

# Sensors turn the angle by up to 8 degrees (a clamp of the open PLAID recordings, on resistive loads, doi
# 10.1038/s41597-020-0389-7): nearer to 90 degrees than 10 the sign of a power is not told. cos 80 degrees.
_FACTOR_LEAST = 0.17
_OWN_LEAST = 0.5  # of a coil's volt-amperes are power while it steps slowly: most of it is resistance (ours)
_NEAR = 0.02  # of the supply's voltage: sensors of a per cent each do not tell nearer ones apart (ours)
_CAPACITOR_DEG = 30.0  # about the quarter turn between voltage and current of a capacitor (ours)


def power_findings(a: Analysis, motor: MotorType, moment: Moment, skip: tuple[str, ...] = ()) -> list[Finding]:
    """Of each pair of voltage and current but those at the places `skip`."""
    findings: list[Finding] = []
    for n, pair in enumerate(a.layout.pairs):
        current = a.layout.rows[pair.current]
        if current.channel.place.casefold() == "auxiliary" or current.channel.place in skip:
            continue  # the sign of an auxiliary winding follows the direction of rotation
        findings.append(_arrow(a, n, pair, moment))
        if motor.supply is Supply.DIRECT and a.layout.rows[pair.voltage].steady:
            findings.append(_polarity(a, pair))
    findings += _behind(a, moment)
    findings += _capacitor(a)
    if motor.holds and len(findings) >= 2:
        findings += _coils(a, moment)
    return findings


def _arrow(a: Analysis, n: int, pair: Pair, moment: Moment) -> Finding:
    current, power = a.layout.rows[pair.current], a.power[n]
    small = too_small(a, pair)
    if small or not moment.driven:
        text = f"Which way round {sensor_of(current)} is shows in the run{small and f': {small}'}."
        return of_row(current, "arrow", Correctness.UNKNOWN, text, RUN_IT)
    factor = power / (a.rms[pair.voltage] * a.rms[pair.current])
    watts = f"{capital(power_name(current))} was {figure(power)} W"
    if abs(factor) < _FACTOR_LEAST:
        text = f"{watts}, too near to nothing at {figure(a.rms[pair.current])} A for a sign."
        return of_row(current, "arrow", Correctness.UNKNOWN, text, "Load the motor, or start it from rest.")
    if power > 0:
        return of_row(current, "arrow", Correctness.RIGHT, f"{watts}: taken from the supply.", sure=moment.takes)
    return turned_round(
        current, pair.place, f"{watts}.", f"the probe of {row_name(a.layout.rows[pair.voltage])}", moment
    )


def turned_round(current: Row, place: str, text: str, probe: str, moment: Moment) -> Finding:
    """What to say of a power below nothing: a motor that takes power for certain has its sensor turned round."""
    name = sensor_of(current)
    if moment.takes:
        return Finding(
            *("arrow", Sensor.CURRENT, current.channel.place, Correctness.WRONG),
            f"{text} Is {name} turned round?",
            f"Turn {name} round, or exchange the two ends of {probe}.",
            sure=True,
            doubt=f"{row_name(current)} seems turned round: power negative",
            doubts=(place,),
        )
    return of_row(
        *(current, "arrow", Correctness.UNKNOWN),
        f"{text} Either the motor gave power back, or {name} is turned round.",
        "Start it from rest, or hold it still under current: then it can only take power.",
    )


def too_small(a: Analysis, pair: Pair) -> str:
    """Why the product of this pair says nothing, or empty."""
    for k in (pair.voltage, pair.current):
        if a.rms[k] < a.layout.rows[k].limit:
            row = a.layout.rows[k]
            return f"{row_name(row)} was below {row.limit:.2g} {row.channel.unit}"
    return ""


def power_name(current: Row) -> str:
    return f"the power of {current.channel.place or current.channel.name}"


def _polarity(a: Analysis, pair: Pair) -> Finding:
    """Voltage and current both below nothing: power is right, and yet one may have meant the other way."""
    voltage, current = (a.layout.rows[k] for k in (pair.voltage, pair.current))
    volts, amps = a.mean[pair.voltage], a.mean[pair.current]
    if abs(volts) < voltage.limit or too_small(a, pair):
        text = f"The polarity of {voltage.channel.place} shows when it has voltage."
        return of_row(voltage, "polarity", Correctness.UNKNOWN, text, RUN_IT)
    told = f"{capital(row_name(voltage))} was {figure(volts)} V and {row_name(current)} {figure(amps)} A"
    if volts > 0:
        return of_row(voltage, "polarity", Correctness.RIGHT, f"{told}.")
    meant = "the motor's leads are exchanged, as they are for the other direction, or probe and sensor are both turned"
    change = (
        "Look which way the shaft turns: if it is forward, exchange the ends of the probe and turn the sensor round."
    )
    return of_row(voltage, "polarity", Correctness.UNKNOWN, f"{told}: {meant}.", change)


def _behind(a: Analysis, moment: Moment) -> list[Finding]:
    """The motor behind switch and leads never has more voltage than the supply, unless it gives power back."""
    volts = {row.channel.place.casefold(): k for k, row in enumerate(a.layout.rows) if row.is_voltage}
    first = next((volts[place] for place in ("motor", "bridge") if place in volts), None)
    if first is None or "supply" not in volts:
        return []
    row, supply = a.layout.rows[first], volts["supply"]
    at_motor, at_supply = a.rms[first], a.rms[supply]
    key, name = "behind", row_name(row)
    told = f"{capital(name)} was {figure(at_motor)} V, that of the supply {figure(at_supply)} V"
    # On alternating current no motor with a commutator gives power back by itself.
    if max(at_motor, at_supply) < row.limit or not (moment.takes or (moment.driven and not row.steady)):
        text = f"Whether {name} lies behind the supply shows in a start from rest."
        return [of_row(row, key, Correctness.UNKNOWN, text, "Start it from rest.")]
    if abs(at_motor - at_supply) < _NEAR * at_supply:
        change = "A load that draws more shows what leads and switch lose."
        return [of_row(row, key, Correctness.UNKNOWN, f"{told}: too alike to tell one from the other.", change)]
    if at_motor < at_supply:
        return [of_row(row, key, Correctness.RIGHT, f"{told}: it lies behind the supply.", sure=True)]
    change = "The two voltage channels are exchanged: exchange their probes, or their places on the Rig screen."
    return [of_row(row, key, Correctness.WRONG, f"{told}: more than its supply.", change, sure=True)]


def _capacitor(a: Analysis) -> list[Finding]:
    """The current of a capacitor is a quarter turn before its voltage."""
    rows = {(row.is_voltage, row.channel.place.casefold()): k for k, row in enumerate(a.layout.rows)}
    voltage, current = rows.get((True, "capacitor")), rows.get((False, "auxiliary"))
    if voltage is None or current is None:
        return []
    row, sensor = a.layout.rows[voltage], name_of("current", "auxiliary")
    small = too_small(a, Pair(voltage, current, ""))
    if small or not a.fundamental or a.unsteady:
        text = f"Whether {sensor} and {row_name(row)} belong together shows while it flows."
        return [of_row(row, "capacitor", Correctness.UNKNOWN, text, RUN_IT)]
    before = degrees(phase(a.fundamental[current] * a.fundamental[voltage].conjugate()))
    told = f"{capital(sensor)} was {degrees_of(abs(before))} {'before' if before > 0 else 'behind'} {row_name(row)}"
    if abs(before - 90.0) < _CAPACITOR_DEG:
        return [of_row(row, "capacitor", Correctness.RIGHT, f"{told}, as of a capacitor.", sure=True)]
    if abs(before + 90.0) < _CAPACITOR_DEG:
        change = "Turn the sensor of the auxiliary current round, or exchange the two ends of the capacitor's probe."
        return [of_row(row, "capacitor", Correctness.WRONG, f"{told}: one of them is turned round.", change, sure=True)]
    change = "Look whether the probe lies across the capacitor alone, and the capacitor in the lead of that winding."
    return [of_row(row, "capacitor", Correctness.UNKNOWN, f"{told}: not those of a capacitor.", change)]


def _coils(a: Analysis, moment: Moment) -> list[Finding]:
    """Two coils that are fed a quarter turn apart: with their voltages exchanged neither has a power of its own."""
    factors = [
        a.power[n] / (a.rms[pair.voltage] * a.rms[pair.current])
        for n, pair in enumerate(a.layout.pairs)
        if not too_small(a, pair)
    ]
    row = a.layout.rows[a.layout.pairs[0].current]
    if len(a.layout.pairs) != 2 or len(factors) != 2 or not moment.driven:
        return []
    told = f"Power over volt-amperes was {figure(factors[0])} and {figure(factors[1])} in the two coils"
    if abs(sum(factors)) < _FACTOR_LEAST and max(map(abs, factors)) < _OWN_LEAST:
        change = "Exchange the voltage probes of the two coils, or their two current sensors."
        return [of_row(row, "same_phase", Correctness.WRONG, f"{told}: voltage of one, current of the other.", change)]
    if min(factors) > _FACTOR_LEAST:
        return [of_row(row, "same_phase", Correctness.RIGHT, f"{told}.", sure=moment.takes)]
    change = "Let it step slowly: then the resistance of its coils tells."
    return [of_row(row, "same_phase", Correctness.UNKNOWN, f"{told}.", change)]
