"""A running rig: port -> recorder first -> pipeline -> view. (Being built: the outer shape others may rely on.)"""

from server.config import RigSettings
from server.live.view import View


class Rig:
    """One board with its motor. All methods are called on the event loop's thread.

    `name`, `settings` (RigSettings as they hold now), `demo` (true: a software board started by this service),
    `view` (server.live.view.View), `refusal` (why the settings file cannot be used, or empty).
    """

    name: str
    settings: RigSettings
    demo: bool
    refusal: str
    view: View

    async def start(self) -> None: ...

    async def stop(self) -> None: ...

    def end_run(self) -> None: ...

    async def change_settings(self, settings: RigSettings) -> None: ...
