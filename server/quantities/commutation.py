"""What a drive makes of each sector of a brushless motor in a run: currents, ripple of the torque, timing.

Of one window in five, from that window alone, as other dear readings are.
"""

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from firmware_protocol import Role
from server.config import Plate
from server.hall.driven import SectorSamples, more_resistance, pair_currents, timing, torque_ripple, turned, widths_deg
from server.hall.inputs import Halls, shaft_inputs
from server.hall.table import SECTOR_DEG
from server.hall.tail import doubt_in, tail_of
from server.motors import MotorType
from server.quantities.harmonic_groups import is_due
from server.quantities.quantity import Quantity
from server.quantities.reasons import GAP, given
from server.readings import Reading, absent
from server.samples import Channel, EdgeTrain, Samples

_HALLED = ("brushless",)
_NEEDS = "three Hall signals and the currents of two phases"
WIDTHS = "sector_widths_deg"
RECTIFIED, MORE = "phase_currents_a", "phase_resistance_more_percent"
SUM = "phase_current_sum_a"
SECTOR_CURRENTS, UNEVENNESS = "sector_currents_a", "sector_current_unevenness_percent"
RIPPLE, LATE = "torque_ripple_percent", "commutation_late_deg"
COMMUTATION = (
    Quantity(
        *(SECTOR_CURRENTS, "I_s", "current of each sector", "A", 2),
        "mean current of the driven pair in sectors 1 to 6, once a second; negative where it flows as reverse drive"
        " makes it",
        *("six-step table; common practice", _NEEDS, _HALLED),
    ),
    Quantity(
        *(MORE, "", "more resistance, estimate", "%", 0),
        "of phases U V W against the other two, once a second: pairs at the same voltage, by their current and how fast"
        " it rises; as if a current took 3 ms to settle, less what the widths of the sectors make of it",
        *("ours, by trial on modelled motors", _NEEDS, _HALLED),
    ),
    Quantity(
        *(UNEVENNESS, "", "sectors differ by", "%", 1),
        "(greatest - least) / mean of the currents of the six sectors",
        *("ours", _NEEDS, _HALLED),
    ),
    Quantity(
        *(RECTIFIED, "", "rectified mean current of each phase", "A", 2),
        "mean of the magnitude of the currents of U V W over the window's whole visits, once a second; the third of two"
        " is minus their sum",
        *("common practice", _NEEDS, _HALLED),
    ),
    Quantity(
        *(SUM, "", "rectified sum of the phase currents", "A", 2),
        "mean of the magnitude of the sum of the currents of U V W over the window's whole visits, once a second; near"
        " nothing where three wires lead to the motor and three channels read them right",
        *("Kirchhoff's law of currents", "three Hall signals and the currents of three phases", _HALLED),
    ),
    Quantity(
        *(WIDTHS, "", "width of each sector", "°", 1),
        "electrical degrees of sectors 1 to 6 by time, over the whole turns of the window, once a second; 60 where"
        " sensors sit right",
        *("common practice", "three Hall signals", _HALLED),
    ),
    Quantity(
        *(RIPPLE, "", "torque ripple, estimate", "%", 0),
        "(greatest - least) / mean over an electrical turn of phase currents times flat tops of 120°, once a second;"
        " as if Hall edges sat right and the motor had such a back-EMF",
        "torque as back-EMF times current over speed: Krishnan, PM and Brushless DC Drives (from memory)",
        *(_NEEDS, _HALLED),
    ),
    Quantity(
        *(LATE, "", "Hall edges late, estimate", "°", 1),
        "electrical degrees after the place where the drive wants them, from the zero of the lead that is not driven,"
        " which belongs in the middle of a sector; once a second; early is negative",
        *("common practice", "three Hall signals, voltages of three phases and of the link, currents", _HALLED),
    ),
)
COMMUTATION_LISTS = (SECTOR_CURRENTS, RECTIFIED, WIDTHS, MORE)
_BEYOND_DEG = 25.0
_FREE_PLENTY = 0.6  # of the samples: below, the end of the third lead's own current covers much of the sector
TWO_MEASURED = "only two phase currents are measured: the third is minus their sum"
MAYBE_LOST = "an edge may be missing: frames were damaged"
NOT_DRIVEN = "it is not driven: no phase current stands out"


@dataclass(frozen=True, slots=True)
class Phases:
    """Rows of a window's values: currents and voltages of U V W (None: not measured), of the link. `least_a`: below it
    a current may be nothing; `delay_s`, `volts_delay_s`: mean of the currents' channels and of the voltages'."""

    amps: tuple[int | None, int | None, int | None]
    volts: tuple[int, int, int] | None
    link: int | None
    least_a: float
    delay_s: float
    volts_delay_s: float


@lru_cache(maxsize=32)
def phases_of(channels: tuple[Channel, ...], motor: MotorType) -> Phases | None:
    """None where fewer than two phase currents are measured, or the motor has no three phases."""
    at = {(each.role, each.place.casefold()): k for k, each in reversed(list(enumerate(channels)))}
    names = [name.casefold() for name in motor.phases]
    if len(names) != 3 or motor.key not in _HALLED:
        return None
    amps = [at.get((Role.CURRENT, name)) for name in names]
    if amps.count(None) > 1:
        return None
    volts = [at[Role.VOLTAGE, name] for name in names if (Role.VOLTAGE, name) in at]
    its = [channels[k] for k in amps if k is not None]
    return Phases(
        (amps[0], amps[1], amps[2]),
        (volts[0], volts[1], volts[2]) if len(volts) == 3 else None,
        at.get((Role.VOLTAGE, motor.voltage_place.casefold())),
        sum(each.least for each in its),
        float(np.mean([each.delay_s for each in its])),
        float(np.mean([channels[k].delay_s for k in volts])) if volts else 0.0,
    )


def commutation_readings(
    window: Samples, train: EdgeTrain | None, motor: MotorType | None, plate: Plate
) -> list[Reading]:
    """Readings of `COMMUTATION`, once a second, where this board and motor have what they need."""
    phases = None if motor is None or train is None else phases_of(window.channels, motor)
    if phases is None or train is None or not is_due(window):
        return []
    halls = shaft_inputs(train.inputs, plate)
    if not isinstance(halls, Halls):
        return []
    late = (LATE,) if phases.volts and phases.link is not None else ()
    keys = (SECTOR_CURRENTS, RECTIFIED, SUM, WIDTHS, MORE, UNEVENNESS, RIPPLE, *late)
    found = _turned(window, train, halls, phases)
    if isinstance(found, str):
        return [absent(key, found) for key in keys]
    turning, amps, doubt = found
    readings = _currents(turning, amps, window.rate_hz, phases.least_a, doubt)
    readings.append(_sum(turning, amps, phases, doubt))
    if late:
        readings.append(_late(window, turning, amps, phases, doubt))
    return readings


def _turned(
    window: Samples, train: EdgeTrain, halls: Halls, phases: Phases
) -> tuple[SectorSamples, NDArray[np.float64], str] | str:
    """Whole visits and currents of U V W, and a doubt of the edges; or why there are none."""
    if window.missing.any():
        return GAP
    rows = [row for row in phases.amps if row is not None]
    if window.clipped[rows].any():
        return "a phase current was clipped"
    known = window.values[rows]
    amps = np.stack([-known.sum(axis=0) if row is None else window.values[row] for row in phases.amps])
    if float(np.sqrt((amps * amps).mean(axis=1)).max()) < phases.least_a:
        return NOT_DRIVEN
    end = min(window.end_tick, train.known_to_tick)
    tail = tail_of(train, halls.bits, window.first_tick, end, 1)
    first_tick = window.first_tick - phases.delay_s * window.tick_hz
    turning = turned(tail, halls.spacing_deg, first_tick, window.ticks_per_sample, window.count)
    if isinstance(turning, str):
        return turning
    first_edge_tick = int(tail.ticks[0])  # the first visit may have begun before the window
    doubt = MAYBE_LOST if doubt_in(train, min(first_edge_tick, window.first_tick), end) else ""
    return turning, amps, doubt


def _currents(
    turning: SectorSamples, amps: NDArray[np.float64], rate_hz: float, least_a: float, doubt: str
) -> list[Reading]:
    its = pair_currents(turning, amps)
    mean = float(np.nanmean(its))
    told = [given(SECTOR_CURRENTS, tuple(its.tolist()), doubt=doubt)]
    rectified = np.abs(amps[:, turning.first : turning.last]).mean(axis=1)
    told.append(given(RECTIFIED, tuple(rectified.tolist()), doubt=doubt))
    told.append(given(WIDTHS, tuple(widths_deg(turning).tolist()), doubt=doubt))
    if abs(mean) < least_a:
        small = f"the mean of the sectors is below {least_a:.2g} A: the ratio means nothing"
        return [*told, absent(MORE, small), absent(UNEVENNESS, small), absent(RIPPLE, small)]
    more = more_resistance(turning, amps, rate_hz)
    alike = "the sectors' currents are too unlike to compare resistances"
    told.append(absent(MORE, alike) if more is None else given(MORE, tuple(100.0 * each for each in more), doubt=doubt))
    uneven = 100.0 * float(np.nanmax(its) - np.nanmin(its)) / abs(mean)
    ripple = torque_ripple(turning, amps)
    told.append(given(UNEVENNESS, uneven, doubt=doubt))
    told.append(absent(RIPPLE, "no torque") if ripple is None else given(RIPPLE, 100.0 * ripple, doubt=doubt))
    return told


def _sum(turning: SectorSamples, amps: NDArray[np.float64], phases: Phases, doubt: str) -> Reading:
    if None in phases.amps:
        return absent(SUM, TWO_MEASURED)
    return given(SUM, float(np.abs(amps[:, turning.first : turning.last].sum(axis=0)).mean()), doubt=doubt)


def _late(window: Samples, turning: SectorSamples, amps: NDArray[np.float64], phases: Phases, doubt: str) -> Reading:
    assert phases.volts is not None
    assert phases.link is not None
    if window.clipped[[*phases.volts, phases.link]].any():
        return absent(LATE, "a voltage was clipped")
    found = timing(turning, window.values[list(phases.volts)], window.values[phases.link], amps)
    if found is None:
        return absent(LATE, "the lead that is not driven is held by diodes nearly all the time")
    # The visits are placed by the currents' delay; voltages that are delayed longer cross as much later in them.
    sectors = (phases.volts_delay_s - phases.delay_s) * window.rate_hz / float(turning.took.mean())
    late_deg = found.late_deg + SECTOR_DEG * sectors
    if abs(late_deg) > _BEYOND_DEG:
        side = "late" if late_deg > 0 else "early"
        doubt = doubt or f"beyond {_BEYOND_DEG:.0f}° only that they are {side} is sure"
    elif found.free < _FREE_PLENTY:
        doubt = doubt or "the end of its own current covers much of the lead that is not driven"
    return given(LATE, late_deg, doubt=doubt)
