"""How findings name things and write figures, and how they are made for a row. Pure."""

from server.connection.finding import Correctness, Finding
from server.motors.connections import Sensor
from server.quantities.layout import Row


def name_of(sensor: str, place: str) -> str:
    """How a sentence names a point: "the current of L2"."""
    return f"Hall {place}" if sensor == Sensor.HALL else f"the {sensor} of {place}"


def row_name(row: Row) -> str:
    """The same of a row."""
    return name_of(_sensor(row), row.channel.place or row.channel.name)


def sensor_of(row: Row) -> str:
    """How a sentence names its sensor: "the current sensor of L2"."""
    return f"the {_sensor(row)} sensor of {row.channel.place or row.channel.name}"


def of_row(row: Row, key: str, verdict: Correctness, text: str, change: str = "", *, sure: bool = False) -> Finding:
    """A finding that belongs to the point of this row."""
    return Finding(key, _sensor(row), row.channel.place, verdict, text, change, sure)


def capital(words: str) -> str:
    """The same words as the beginning of a sentence."""
    return words[0].upper() + words[1:]


def figure(value: float) -> str:
    """Three digits, as they need be, with a real minus."""
    rounded = float(f"{value:.3g}")
    return f"{rounded:g}".replace("-", "−") if 1e-3 <= abs(rounded) < 1e5 or rounded == 0 else f"{rounded:.2e}"


def degrees_of(value: float) -> str:
    """An angle to a degree, with a real minus."""
    return f"{round(value)}°".replace("-", "−")


def _sensor(row: Row) -> Sensor:
    return Sensor.VOLTAGE if row.is_voltage else Sensor.CURRENT
