"""Work for one who may leave: a closed page or a script that was stopped is worked for no longer."""

import asyncio
from collections.abc import Coroutine
from typing import Any, TypeVar

from fastapi import HTTPException, Request

Answer = TypeVar("Answer")


async def unless_left(request: Request, answer: Coroutine[Any, Any, Answer]) -> Answer:
    """Its result; it is cancelled as soon as nobody waits for it. Raises HTTPException then; whatever it raises."""
    work, left = asyncio.ensure_future(answer), asyncio.ensure_future(_until_left(request))
    try:
        await asyncio.wait((work, left), return_when=asyncio.FIRST_COMPLETED)
        if not work.done():
            raise HTTPException(409, "Whoever asked has left.")
        return work.result()
    finally:
        work.cancel()
        left.cancel()


async def _until_left(request: Request) -> None:
    while (await request.receive())["type"] != "http.disconnect":
        pass
