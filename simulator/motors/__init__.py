"""Physical models, one file per motor type; a type's name is the same in the service's settings."""

from simulator.motors import (
    brushless,
    capacitor_start,
    compound_dc,
    permanent_magnet_dc,
    permanent_split_capacitor,
    series_dc,
    servo,
    shaded_pole,
    shunt_dc,
    split_phase,
    stepper,
    synchronous,
    synchronous_reluctance,
    three_phase_induction,
    universal,
)
from simulator.motors.motor import Model

MOTORS: dict[str, Model] = {
    "permanent_split_capacitor": permanent_split_capacitor.MODEL,
    "split_phase": split_phase.MODEL,
    "capacitor_start": capacitor_start.MODEL,
    "shaded_pole": shaded_pole.MODEL,
    "three_phase_induction": three_phase_induction.MODEL,
    "synchronous": synchronous.MODEL,
    "synchronous_reluctance": synchronous_reluctance.MODEL,
    "universal": universal.MODEL,
    "series_dc": series_dc.MODEL,
    "shunt_dc": shunt_dc.MODEL,
    "compound_dc": compound_dc.MODEL,
    "permanent_magnet_dc": permanent_magnet_dc.MODEL,
    "stepper": stepper.MODEL,
    "servo": servo.MODEL,
    "brushless": brushless.MODEL,
}
