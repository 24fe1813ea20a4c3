"""A report as it is laid out: parts in reading order, of which HTML and PDF are made alike. Records only.

All words are data, whoever they came from: each renderer escapes them.
"""

from dataclasses import dataclass
from typing import Literal, TypeAlias

Ink: TypeAlias = Literal["ink", "second", "rule", "tint", "voltage", "current", "speed", "alarm", "paper"]
Mark: TypeAlias = Literal["for", "against", "missing", "note"]
Anchor: TypeAlias = Literal["start", "middle", "end"]
Point: TypeAlias = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Line:
    """A line through points; `width` in units of the drawing; `dash`: lengths drawn and left out, none: whole."""

    points: tuple[Point, ...]
    ink: Ink
    width: float
    dash: tuple[float, ...] = ()


@dataclass(frozen=True, slots=True)
class Area:
    """A filled shape; `light`: a tint of its ink. `hatched`: strokes in place of a filling."""

    points: tuple[Point, ...]
    ink: Ink
    light: bool = False
    edge: bool = False


@dataclass(frozen=True, slots=True)
class Hatch:
    """A rectangle of slanting strokes: cut away."""

    x: float
    y: float
    wide: float
    high: float


@dataclass(frozen=True, slots=True)
class Label:
    """A text at its base line."""

    x: float
    y: float
    text: str
    ink: Ink = "ink"
    anchor: Anchor = "start"
    strong: bool = False
    size: float = 11.0


Shape: TypeAlias = Line | Area | Hatch | Label


@dataclass(frozen=True, slots=True)
class Drawing:
    """Shapes on a sheet of `wide` times `high` units; `sentence` says what is to be seen."""

    wide: float
    high: float
    shapes: tuple[Shape, ...]
    sentence: str


@dataclass(frozen=True, slots=True)
class Heading:
    """The heading of a part, a second voice behind it. `page`: begins a new page where it is printed."""

    text: str
    second: str = ""
    page: bool = False


@dataclass(frozen=True, slots=True)
class Text:
    """A paragraph."""

    text: str
    second: bool = False


@dataclass(frozen=True, slots=True)
class Caution:
    """What must be heeded, in a frame."""

    strong: str
    text: str


@dataclass(frozen=True, slots=True)
class Facts:
    """Names and words, in two columns where there is room."""

    rows: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class Sign:
    """A fact that speaks for the answer, against it, or is missing."""

    mark: Mark
    text: str


@dataclass(frozen=True, slots=True)
class Signs:
    """Facts with their marks."""

    rows: tuple[Sign, ...]


@dataclass(frozen=True, slots=True)
class Table:
    """`shares`: widths of the columns against each other; `right`: columns of numbers; `strong`: rows that decide."""

    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    shares: tuple[float, ...]
    right: tuple[int, ...] = ()
    strong: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class Lines:
    """Lines as they stand, of settings."""

    lines: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Answer:
    """The first page's head: the answer in a sentence."""

    text: str
    second: str


@dataclass(frozen=True, slots=True)
class Figure:
    """A number to be seen at a glance: its name, itself, its unit, and what stands below."""

    name: str
    value: str
    unit: str
    below: str
    ink: Ink = "ink"


@dataclass(frozen=True, slots=True)
class Figures:
    """A few of them in a row."""

    rows: tuple[Figure, ...]


Part: TypeAlias = Figures | Answer | Heading | Text | Caution | Facts | Signs | Table | Lines | Drawing


@dataclass(frozen=True, slots=True)
class Document:
    """`foot` stands below each page."""

    title: str
    foot: str
    parts: tuple[Part, ...]
