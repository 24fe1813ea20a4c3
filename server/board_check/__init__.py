"""Proves a board against SPEC.md: what is said to it, what must be seen, what to mend. Pure; a command has the line."""

from server.board_check import clock, commands, described, edges, samples, wire
from server.board_check.record import Heard, Phase, Record
from server.board_check.script import CLOCK_EVERY_S, Step, Voice, script
from server.board_check.verdict import Check, CheckResult, State

CHECKS: tuple[Check, ...] = (
    *described.CHECKS,
    *wire.CHECKS,
    *samples.CHECKS,
    *edges.CHECKS,
    *clock.CHECKS,
    *commands.CHECKS,
)

__all__ = [
    "CHECKS",
    "CLOCK_EVERY_S",
    "Check",
    "CheckResult",
    "Heard",
    "Phase",
    "Record",
    "State",
    "Step",
    "Voice",
    "script",
]
