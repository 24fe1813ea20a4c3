"""All rigs of this service. (Being built: the outer shape others may rely on.)"""

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from server.config import RigSettings
from server.rig import Rig


@dataclass(frozen=True, slots=True)
class DemoMotor:
    """`motor` is what `start_demo` takes, `name` and `about` are for a person, `rig` the rig it runs on or None."""

    motor: str
    name: str
    about: str
    rig: str | None


class Rigs:
    """Rigs by name, worst first when iterated. All methods are called on the event loop's thread.

    `data`: the folder of everything the service keeps (rigs/NAME.toml, runs/...). `utc_s()`: the service's clock,
    UTC seconds that never step (monotonic, offset taken once at start).
    """

    data: Path

    def utc_s(self) -> float: ...

    def __iter__(self) -> Iterator[Rig]: ...

    def get(self, name: str) -> Rig | None: ...

    async def start(self) -> None: ...

    async def stop(self) -> None: ...

    async def add(self, settings: RigSettings) -> Rig:
        """Write the settings file and start the rig. Raises ConfigError (sentence for the person) and writes nothing."""

    async def change(self, name: str, settings: RigSettings) -> Rig:
        """The same for a rig that exists; KeyError if it does not."""

    async def remove(self, name: str) -> None:
        """Stop the rig; its settings file is kept as NAME.toml.previous."""

    def demo_motors(self) -> tuple[DemoMotor, ...]:
        """The motors of the demo bench, and the rig that each runs on."""

    async def start_demo(self, motor: str) -> Rig:
        """Start a software board and a rig for it. Raises ValueError for an unknown motor, RuntimeError if it does not start."""

    async def stop_demo(self, name: str) -> None:
        """Stop the software board and its rig; KeyError if there is no demo rig of that name."""
