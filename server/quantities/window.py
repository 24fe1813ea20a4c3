"""All readings of one window. Pure: the same window gives the same readings, to the last bit."""

from collections.abc import Callable

from firmware_protocol import Role
from server.config import Plate
from server.motors import MotorType
from server.quantities.analysis import Analysis, analyse
from server.quantities.beside import found_at_frequency
from server.quantities.best_speed import SPEED_KEYS, best_speed
from server.quantities.commutator import commutator_readings
from server.quantities.emf_constant import emf_constants
from server.quantities.emf_speed import emf_speeds
from server.quantities.frequency import frequency_readings
from server.quantities.half_cycles import half_cycle_readings
from server.quantities.harmonic_groups import harmonic_group_readings, is_due
from server.quantities.harmonics import harmonic_readings
from server.quantities.layout import MAIN_ROLES, Layout, layout_of
from server.quantities.levels import level_readings
from server.quantities.line_speed import line_speeds
from server.quantities.machine import machine_readings
from server.quantities.mixed import mixed
from server.quantities.others import mean_readings
from server.quantities.phasors import phasor_readings
from server.quantities.power import power_readings
from server.quantities.sequence import sequence_readings
from server.quantities.spread import silent
from server.quantities.three_phase import together_readings
from server.quantities.winding import winding_readings
from server.readings import Reading, absent
from server.samples import Samples

NOTHING_CAME = "no sample of this window came"


def window_readings(
    window: Samples,
    motor: MotorType | None,
    plate: Plate,
    speed: Reading | None = None,
    source: Reading | None = None,
    main: frozenset[Role] = MAIN_ROLES,
    counted: Reading | None = None,
) -> list[Reading]:
    """Readings of one window of one group of evenly sampled channels, 200 ms by rule, any rate.

    `motor` None: type not known. `speed` and `source`: what the edges say of them at the window's end, None where no
    input does; where samples or `counted`, the speed by a counter, tell it too, both are among the readings as they are
    by all of that.
    `main`: the roles whose main row, which has no place behind its keys, is in this group.
    Which readings there are depends on channels, motor, plate and the window's number alone (those of `harmonic_groups`
    are of one in five); whether each is good, doubtful or absent on the samples. RMS, means and powers are over whole
    cycles of the fundamental. A family that raises is absent, with the reason, and the others go on.
    """
    return readings_of(window_analysis(window, motor, main), window, motor, plate, speed, source, counted)


def window_analysis(window: Samples, motor: MotorType | None, main: frozenset[Role] = MAIN_ROLES) -> Analysis | None:
    """The numbers that all readings of a window are made from; None where it has neither voltage nor current."""
    layout = layout_of(window.channels, motor, main)
    if not layout.rows:
        return None
    return _nothing(window, layout) if window.missing.all() else mixed(found_at_frequency(analyse(window, layout)))


def readings_of(
    a: Analysis | None,
    window: Samples,
    motor: MotorType | None,
    plate: Plate,
    speed: Reading | None = None,
    source: Reading | None = None,
    counted: Reading | None = None,
) -> list[Reading]:
    """The readings of a window from its numbers."""
    nothing = bool(window.missing.all())
    readings = mean_readings(window, layout_of(window.channels, motor))
    told: list[Reading] = []
    if a is not None:
        told = _guarded(lambda a: line_speeds(a, window, motor, plate) + emf_speeds(a, window, motor, plate), a, window)
    if told or counted is not None:
        best = best_speed(speed, source, told if counted is None else [counted, *told])
        readings, speed = [*readings, *best, *told], best[0]
    if a is not None:
        for family in (
            lambda a: frequency_readings(a, motor, plate, speed),
            level_readings,
            half_cycle_readings,
            power_readings,
            together_readings,
            harmonic_readings,
            sequence_readings,
            lambda a: commutator_readings(a, motor),
            phasor_readings,
            lambda a: winding_readings(a, motor, plate, speed),
            lambda a: machine_readings(a, motor, plate, speed),
            lambda a: emf_constants(a, window, motor, plate, speed),
        ):
            readings += _guarded(family, a, window)
        if is_due(window):
            readings += _guarded(harmonic_group_readings, a, window)
    if not nothing:
        return readings
    return [each if each.key in SPEED_KEYS else absent(each.key, NOTHING_CAME, each.place) for each in readings]


def _guarded(family: Callable[[Analysis], list[Reading]], a: Analysis, window: Samples) -> list[Reading]:
    """The readings of a family. If it raises, those that it has when nothing came tell which are absent."""
    try:
        return family(a)
    except Exception as error:  # whatever it is, the other families go on
        reason = f"our own fault: computing it failed ({type(error).__name__}: {error})"
        return [absent(each.key, reason, each.place) for each in family(_nothing(window, a.layout))]


def _nothing(window: Samples, layout: Layout) -> Analysis:
    zeros = [0.0] * len(layout.rows)
    clipped = [""] * len(layout.rows)
    powers = [0.0] * len(layout.pairs)
    spreads = [silent(row, NOTHING_CAME) for row in layout.rows]
    return Analysis(
        layout=layout,
        rate_hz=window.rate_hz,
        samples=window.count,
        partial=NOTHING_CAME,
        clipped=clipped,
        rms=zeros,
        mean=zeros,
        peak=zeros,
        power=powers,
        spreads=spreads,
        silence=NOTHING_CAME,
    )
