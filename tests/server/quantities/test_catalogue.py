"""The catalogue: each reading has its entry, each entry its words and its source."""

import numpy as np

from firmware_protocol import InputKind, Role
from server.config import Plate
from server.hall import edge_readings
from server.motors import MOTOR_TYPES
from server.quantities import QUANTITIES
from server.quantities.document import FILE, document
from server.samples import Channel, Input
from tests.server.hall.shafts import HALLS, train
from tests.server.quantities.windows import current, read, voltage, window

KEYS = {quantity.key for quantity in QUANTITIES}
PLACES = ("supply", "dc link", "L1", "L2", "L3", "U", "V")


def test_keys_are_unique_and_every_entry_has_label_and_source() -> None:
    assert len(KEYS) == len(QUANTITIES)
    assert all(quantity.label and quantity.source and quantity.digits >= 0 for quantity in QUANTITIES)


def test_the_document_is_that_of_the_catalogue() -> None:
    assert FILE.read_text() == document(), "run python -m server.quantities.document"


def test_every_entry_says_what_it_is_what_it_needs_and_for_which_motors() -> None:
    types = {motor.key for motor in MOTOR_TYPES}
    for quantity in QUANTITIES:
        assert quantity.definition, quantity.key
        assert quantity.needs, quantity.key
        assert set(quantity.motors) <= types


def test_every_key_with_a_unit_behind_it_says_the_same_unit() -> None:
    # Names end in units: the words of the catalogue's units as names write them.
    endings = {
        "v": "V",
        "a": "A",
        "w": "W",
        "va": "VA",
        "var": "var",
        "hz": "Hz",
        "rpm": "r/min",
        "deg": "°",
        "percent": "%",
        "c": "°C",
        "ppm": "ppm",
        "wh": "Wh",
        "ah": "Ah",
        "s2": "rad/s²",
        "k": "K",
        "ohm": "Ω",
        "m": "N·m",
    }
    words = {"back_emf_constant": "V·s/rad", "torque_constant": "N·m/A"}  # as the trade calls them
    for quantity in QUANTITIES:
        ending = quantity.key.rsplit("_", 1)[-1]
        assert quantity.unit == words.get(quantity.key, endings.get(ending, "")), quantity.key


def test_every_reading_of_every_motor_type_is_in_the_catalogue() -> None:
    roles = [
        Channel(0, role, role.name.lower(), role.name.lower(), "", -1.0, 1.0) for role in Role if role > Role.CURRENT
    ]
    channels = [*(voltage(place) for place in PLACES), *(current(place) for place in PLACES), *roles]
    made = window(channels, np.random.default_rng(1).normal(0, 0.1, (len(channels), 4000)))
    given = {key for motor in (None, *MOTOR_TYPES) for key in read(made, motor)}
    pulse = (Input(0, InputKind.PULSE, "pulse", 0, 1),)
    given |= {
        each.id for inputs in (HALLS, pulse) for each in edge_readings(train(inputs, []), 0, 1000, Plate()).readings
    }
    assert {key.split(".")[0] for key in given} <= KEYS


def test_the_far_line_of_every_type_names_readings_of_the_catalogue() -> None:
    assert {key.split(".")[0] for motor in MOTOR_TYPES for key in motor.far_line} <= KEYS
