"""`slipring demo-motors`: the motors of the demo bench and their stories, as `serve --demo-motor` takes them."""

import asyncio
import json
from argparse import Namespace
from dataclasses import asdict

from server.commands.streams import say, write
from server.demo_board import DemoBoardError
from server.demo_list import DemoList, DemoMotor


def run(chosen: Namespace) -> int:
    try:
        motors = asyncio.run(DemoList().motors())
    except DemoBoardError as error:
        say(f"slipring: {error}")
        return 1
    for motor in motors:
        said = json.dumps(asdict(motor)) if chosen.json else _lines(motor)
        write(f"{said}\n".encode(errors="replace"))
    return 0


def _lines(motor: DemoMotor) -> str:
    stories = (f"    {motor.key}:{story.name}\t{story.lasts_s:g} s\t{story.says}" for story in motor.stories)
    return "\n".join((f"{motor.key}\t{motor.name}: {motor.says}", *stories))
