"""All kinds of measurements, by their names."""

from tests.coverage.direct import direct
from tests.coverage.groups import groups
from tests.coverage.lines import line_speeds
from tests.coverage.machine import machine
from tests.coverage.made import made
from tests.coverage.mains import few_cycles, mains
from tests.coverage.points import points
from tests.coverage.shaft import shaft
from tests.coverage.slip import slip
from tests.coverage.told import Family

FAMILIES: dict[str, Family] = {
    "mains": mains,
    "few cycles": few_cycles,
    "rows made of others": made,
    "harmonic groups": groups,
    "direct current": direct,
    "winding and constants": machine,
    "edges of a shaft": shaft,
    "slip": slip,
    "speed without a sensor": line_speeds,
    "two points": points,
}
