"""Waiting for what happens on the event loop."""

import asyncio
from collections.abc import Callable


async def until(happened: Callable[[], object], within_s: float = 3.0) -> None:
    async with asyncio.timeout(within_s):
        while not happened():
            await asyncio.sleep(0.01)
