"""Why nothing is known of what a reading may be off by, in words for a person who opened it. Pure.

Told from the reading and what the board states, after the fact: readings themselves carry no such words.
"""

from firmware_protocol import Role
from server.quantities.spread import undelayed, unstated
from server.readings import Confidence, Reading
from server.samples import Channel

_DOUBTFUL = "what makes it doubtful cannot be put in figures"
_WORD = "it is a word, not a figure"
_ABSENT = "there is no value"
_NOT_SAID = "no budget is made for this reading, or this window does not tell its noise"


def why_unknown(reading: Reading, channels: tuple[Channel, ...]) -> str:
    """Empty where its uncertainty is known. `channels`: all of the board, the first that falls short is named."""
    if reading.uncertainty is not None:
        return ""
    if reading.confidence is Confidence.ABSENT:
        return _ABSENT
    if reading.confidence is Confidence.DOUBTFUL:
        return _DOUBTFUL
    if isinstance(reading.value, str):
        return _WORD
    behind = _behind(reading, channels)
    return next(filter(None, (*map(unstated, behind), *map(undelayed, behind))), _NOT_SAID)


def _behind(reading: Reading, channels: tuple[Channel, ...]) -> list[Channel]:
    """Voltages and currents that it may be made of: by its key those of one kind, by its place those there."""
    roles = {role for role in (Role.VOLTAGE, Role.CURRENT) if role.name.lower() in reading.key}
    its = [each for each in channels if each.role in (roles or {Role.VOLTAGE, Role.CURRENT})]
    here = [each for each in its if reading.place in (each.place, each.name)]
    return here or its
