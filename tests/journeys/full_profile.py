"""The full board of SPEC.md through a pty, the real service and a real page, for so many seconds."""

import time
from pathlib import Path
from typing import Any, NamedTuple

from playwright.sync_api import Browser

from tests.journeys.bench import Service, running, service, word_of
from tests.journeys.page import BLANK, let_in, opened
from tests.seeded.full_profile import write


class Found(NamedTuple):
    """What was sent and what the service had of it at the end."""

    seconds: float
    bytes: int
    frames: int
    frames_read: int
    frames_lost: int
    damaged: int
    samples_missing: int
    pictures_drawn: int

    @property
    def whole(self) -> bool:
        return self.frames_read == self.frames and not (self.frames_lost or self.damaged or self.samples_missing)


def watched(browser: Browser, folder: Path, seconds: float) -> Found:
    """Send the board's file in real time, with the page open from before its first byte."""
    file, said = folder / "full.wire", folder / "full.txt"
    frames, length = write(file, seconds)
    with (
        running(["-m", "tests.seeded.full_profile", str(file), str(seconds)], said),
        service(folder / "data") as served,
    ):
        served.send("POST", "/api/rigs", {"name": "full", "port": word_of(said, "/dev/")})
        drawn = list[int]()
        with opened(browser, BLANK) as page:
            # What the page sends is that it has drawn a picture.
            page.on("websocket", lambda socket: socket.on("framesent", lambda _: drawn.append(1)))
            let_in(page, served.url)
            page.goto(f"{served.url}/?rig=full")
            end_s = time.monotonic() + seconds + 20
            while damage(served)["frames"] < frames and time.monotonic() < end_s:
                page.wait_for_timeout(200)
            end = damage(served)
    file.unlink()
    return Found(
        seconds,
        length,
        frames,
        int(end["frames"]),
        int(end["frames_lost"]),
        int(end["checksum"]),
        int(end["samples_missing"]),
        len(drawn),
    )


def damage(served: Service) -> dict[str, Any]:
    found: dict[str, Any] = served.get("/api/rigs/full")["damage"]
    return found
