"""The fundamentals of three lines in a window, as far as the board measures them. Pure."""

from dataclasses import dataclass

from server.motors import MotorType
from server.quantities.analysis import Analysis

_ALIKE_LEAST = (
    0.3  # of the largest: a line that carries less is lost, and the angles are those of another machine (ours)
)


@dataclass(frozen=True, slots=True)
class Lines:
    """RMS phasors by the number of their line. `silence`: why nothing can be told of them, or empty."""

    names: tuple[str, ...]
    voltages: dict[int, complex]
    currents: dict[int, complex]
    silence: str
    least_v: float = 0.0
    least_a: float = 0.0

    @property
    def all_voltages(self) -> tuple[complex, complex, complex]:
        """The third of two is minus their sum: no other is what probes with a common star point show (or the middle of
        a link, for the fundamental)."""
        total = sum(self.voltages.values())
        one, two, three = (self.voltages.get(line, -total) for line in range(3))
        return one, two, three


def lines_of(a: Analysis, motor: MotorType) -> Lines | None:
    """None where fewer than two currents of three phases are measured, or two with fewer than two voltages."""
    names = [place.casefold() for place in motor.phases]
    found: dict[tuple[bool, int], int] = {}
    for k, row in enumerate(a.layout.rows):
        place = row.channel.place.casefold()
        if place in names and row.wave and not row.mix:
            found.setdefault((row.is_voltage, names.index(place)), k)
    volts = {line: k for (is_voltage, line), k in found.items() if is_voltage}
    amps = {line: k for (is_voltage, line), k in found.items() if not is_voltage}
    if len(names) != 3 or len(amps) < (2 if len(volts) >= 2 else 3):
        return None
    least_v, least_a = (max((a.layout.rows[k].limit for k in each.values()), default=0.0) for each in (volts, amps))
    if not a.fundamental:
        return Lines(motor.phases, dict.fromkeys(volts, 0j), dict.fromkeys(amps, 0j), a.silence)
    voltages = {line: a.fundamental[k] for line, k in sorted(volts.items())}
    currents = {line: a.fundamental[k] for line, k in sorted(amps.items())}
    silence = a.unsteady or next((a.clipped[k] for k in amps.values() if a.clipped[k]), "")
    silence = silence or _small(voltages, least_v, "voltage", motor) or _small(currents, least_a, "current", motor)
    return Lines(motor.phases, voltages, currents, silence, least_v, least_a)


def _small(phasors: dict[int, complex], least: float, what: str, motor: MotorType) -> str:
    largest = max(map(abs, phasors.values()), default=0.0)
    if largest < least:
        return f"there was no {what}"
    lost = next((line for line, each in phasors.items() if abs(each) < max(least, _ALIKE_LEAST * largest)), None)
    return "" if lost is None else f"the {what} of {motor.phases[lost]} was much smaller than the others"
