"""What the documents list is what is there, and the service knows no figure of the demo's motors."""

import dataclasses
import re
import tokenize
from collections.abc import Iterator
from pathlib import Path

from server.config import Plate
from server.motors import MOTOR_TYPES
from simulator.motors import MOTORS
from tests.proofs.__main__ import NAMES

ROOT = Path(__file__).resolve().parent.parent.parent


def test_every_room_of_the_service_stands_on_the_map() -> None:
    text = (ROOT / "DEVELOPERS.md").read_text()
    rooms = {path.parent.name for path in (ROOT / "server").glob("*/__init__.py")}
    assert rooms
    assert not [room for room in rooms if f"`{room}/`" not in text]


def test_every_proof_is_named_for_contributors_and_every_type_for_users() -> None:
    assert not [name for name in NAMES if name not in (ROOT / "DEVELOPERS.md").read_text()]
    assert not [motor.key for motor in MOTOR_TYPES if motor.key not in (ROOT / "README.md").read_text()]


def test_what_a_board_may_say_of_its_motor_is_told_to_makers_of_boards() -> None:
    known = [motor.key for motor in MOTOR_TYPES] + [each.name for each in dataclasses.fields(Plate)]
    places = {place for motor in MOTOR_TYPES for place in (motor.voltage_place, motor.current_place)}
    text = (ROOT / "firmware_protocol" / "SPEC.md").read_text()
    assert not [name for name in [*known, *places] if f"`{name}`" not in text]


def test_links_of_the_documents_lead_somewhere() -> None:
    links = [
        (document, target)
        for document in ROOT.glob("*.md")
        for target in re.findall(r"\]\(([^)#:]+)\)", document.read_text())
    ]
    assert links
    assert not [(document.name, target) for document, target in links if not (ROOT / target).exists()]


def test_no_figure_of_a_demo_motor_stands_in_the_service() -> None:
    """Expected values come from plate, reference run or typical band: only figures of three digits can tell."""
    figures = {
        value
        for model in MOTORS.values()
        for parameters in model.parameter_sets.values()
        for value in dataclasses.asdict(parameters).values()
        if isinstance(value, float) and len(f"{value:e}".split("e")[0].rstrip("0").replace(".", "")) >= 3
    }
    assert len(figures) >= 2
    found = {
        (path.name, value) for path in (ROOT / "server").rglob("*.py") for value in numbers(path) if value in figures
    }
    assert not found


def numbers(path: Path) -> Iterator[float]:
    with path.open("rb") as file:
        for token in tokenize.tokenize(file.readline):
            if token.type == tokenize.NUMBER and "j" not in token.string.lower():
                yield (
                    float(int(token.string, 0))
                    if token.string[:2].lower() in ("0x", "0b", "0o")
                    else float(token.string.replace("_", ""))
                )
