"""One tick for all viewers. (Being built: the outer shape others may rely on.)"""

from collections.abc import Callable, Mapping

from server.live.view import View


class Hub:
    """`views()` gives the rigs' views by name, worst first; `utc_s()` the service's clock. Cancel `run()` to end."""

    def __init__(self, views: Callable[[], Mapping[str, View]], utc_s: Callable[[], float]) -> None: ...

    async def run(self) -> None: ...
