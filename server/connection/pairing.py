"""What is said of each current sensor of three lines, once it is known which wirings fit. Pure."""

from dataclasses import dataclass

from server.connection.finding import Correctness, Finding
from server.connection.moment import RUN_IT, Moment
from server.connection.wirings import Wiring
from server.connection.words import degrees_of
from server.motors.connections import Sensor

_NEXT_TEST = "Start it from rest, then run it under another load: the wiring that goes on fitting is the one."
_BACK = "the motor gave power back"
_HALLS = "the drive commutates by Hall signals in another order"


@dataclass(frozen=True, slots=True)
class Pairing:
    """`fits`: the wirings with the fewest mistakes; `back`: as meant, but with power from the shaft, fits as well.

    `silence`: why nothing was told. `taken`: the lines of the currents; `angles_deg`: of each, voltage minus current.
    `orders`: of voltages and currents. `probes_sure`: the sum of three voltages has told that no probe is turned
    round. `commutated`: a drive switches the lines by the shaft's position: wrong Hall wires turn the angles too.
    """

    names: tuple[str, ...]
    taken: tuple[int, ...]
    silence: str
    fits: tuple[Wiring, ...] = ()
    back: bool = False
    angles_deg: tuple[float, ...] = ()
    orders: tuple[str, str] = ("", "")
    probes_sure: bool = True
    commutated: bool = False

    @property
    def only(self) -> Wiring | None:
        """The one wiring that it can be."""
        if len(self.fits) != 1 or self.back:
            return None
        wiring = self.fits[0]
        # Wrong Hall wires of a drive turn all angles alike, and never the current of one line against another.
        told = wiring.lines == self.taken and not all(wiring.turned)
        return wiring if told or not self.commutated else None


def pairing_findings(pairing: Pairing, moment: Moment) -> list[Finding]:
    """For each current its arrow and its phase, and the order of all."""
    wiring = pairing.only
    if wiring is None:
        text, change = _why_unknown(pairing), RUN_IT if pairing.silence else _NEXT_TEST
        things = [
            (key, Sensor.CURRENT, pairing.names[line]) for line in pairing.taken for key in ("arrow", "same_phase")
        ]
        return [Finding(*each, Correctness.UNKNOWN, text, change) for each in (*things, ("phase_order", "", ""))]
    # A motor that gives power back has all angles turned, and never those of single lines.
    sure = moment.takes or ((wiring.lines != pairing.taken or any(wiring.turned)) and not all(wiring.turned))
    findings = []
    for k in range(len(pairing.taken)):
        findings += [_arrow(pairing, wiring, k, sure), _same_phase(pairing, wiring, k, sure)]
    return [*findings, _order(pairing, wiring, sure)]


def _why_unknown(pairing: Pairing) -> str:
    if pairing.silence:
        return f"Angles of voltages and currents show in the run: {pairing.silence}."
    told = f"The currents were {_list([degrees_of(angle) for angle in pairing.angles_deg])} behind their voltages"
    causes = [_BACK] * pairing.back + [_HALLS] * pairing.commutated + [_mistake(pairing, each) for each in pairing.fits]
    if not causes:
        return f"{told}: more than one sensor or probe is on another line or turned round, or the motor has a fault."
    return f"{told}: either {', or '.join(causes)}."


def _mistake(pairing: Pairing, wiring: Wiring) -> str:
    """One wiring in words."""
    if all(wiring.turned) and wiring.lines == pairing.taken:
        return "all current sensors are turned round"
    parts = [
        f"the current sensor of {name} is turned round" for name, turned in _called(pairing, wiring.turned) if turned
    ]
    parts += [
        f"the current sensor of {name} is round the conductor of {pairing.names[line]}"
        for (name, line), meant in zip(_called(pairing, wiring.lines), pairing.taken, strict=True)
        if line != meant
    ]
    return " and ".join(parts) or "all is as it was meant"


def _called(pairing: Pairing, values: tuple[int, ...]) -> list[tuple[str, int]]:
    return [(pairing.names[line], value) for line, value in zip(pairing.taken, values, strict=True)]


def _arrow(pairing: Pairing, wiring: Wiring, k: int, sure: bool) -> Finding:
    name = pairing.names[pairing.taken[k]]
    told = f"The current of {name} was {degrees_of(pairing.angles_deg[k])} behind its voltage"
    if not wiring.turned[k]:
        return Finding("arrow", Sensor.CURRENT, name, Correctness.RIGHT, f"{told}.", sure=sure)
    change = f"Turn the current sensor of {name} round"
    return Finding(
        *("arrow", Sensor.CURRENT, name, Correctness.WRONG, f"{told}. Is the current sensor of {name} turned round?"),
        f"{change}." if pairing.probes_sure else f"{change}, or exchange the ends of the probe of {name}.",
        sure=sure,
        doubt=f"the current of {name} seems turned round: power negative",
        doubts=(name, ""),
    )


def _same_phase(pairing: Pairing, wiring: Wiring, k: int, sure: bool) -> Finding:
    name, real = pairing.names[pairing.taken[k]], pairing.names[wiring.lines[k]]
    told = f"The current of {name} was {degrees_of(pairing.angles_deg[k])} behind its voltage"
    if real == name:
        return Finding("same_phase", Sensor.CURRENT, name, Correctness.RIGHT, f"{told}, as of one line.", sure=sure)
    change = f"Put the current sensor of {name} round the conductor of {name}: it seems to be round {real}"
    if wiring.lines[k] in pairing.taken and wiring.lines[pairing.taken.index(wiring.lines[k])] == pairing.taken[k]:
        change = f"Exchange the current sensors of {name} and {real}, or their voltage probes"
    return Finding(
        *("same_phase", Sensor.CURRENT, name, Correctness.WRONG, f"{told}, as of the current of {real}.", f"{change}."),
        sure=sure,
        doubt=f"the current of {name} seems to be that of {real}",
        doubts=(name, ""),
    )


def _order(pairing: Pairing, wiring: Wiring, sure: bool) -> Finding:
    volts, amps = pairing.orders
    if any(wiring.turned):
        text = "The order of the currents shows when none of them is turned round."
        return Finding("phase_order", "", "", Correctness.UNKNOWN, text, "Turn the sensors round first.")
    if volts == amps:
        return Finding(
            "phase_order", "", "", Correctness.RIGHT, f"Voltages and currents came in the order {volts}.", sure=sure
        )
    text = f"Voltages came in the order {volts}, currents in the order {amps}."
    change = "Two lines are exchanged on one side: look at the sensors that are not round their own line."
    return Finding("phase_order", "", "", Correctness.WRONG, text, change, sure)


def _list(words: list[str]) -> str:
    return ", ".join(words[:-1]) + f" and {words[-1]}" if len(words) > 1 else "".join(words)
