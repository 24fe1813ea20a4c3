"""What a person said of channels, put in the place of the board's own word. Pure.

The board's description stays as it is beside it: that is what is recorded, and a run can be replayed with other words.
"""

from collections.abc import Sequence
from dataclasses import replace
from typing import Final, TypeAlias

from firmware_protocol import ChannelDescription, Role
from server.config import ChannelSettings

Complaint: TypeAlias = tuple[str, str, str]  # which setting, what is wrong with it, what to do instead

_UNITS: Final = {Role.VOLTAGE: "V", Role.CURRENT: "A"}  # the catalogue has these in no other


def as_set(
    channels: Sequence[ChannelDescription], settings: Sequence[ChannelSettings]
) -> tuple[tuple[ChannelDescription, ...], tuple[Complaint, ...]]:
    """The channels as they hold now, and what of the settings cannot be used; that is left as the board says it."""
    complaints: list[Complaint] = []
    wanted: dict[int, ChannelSettings] = {}
    for said in settings:
        key = f"channels.{said.channel}"
        at = _index(channels, said.channel)
        if at is None:
            there = ", ".join(each.name or str(each.index) for each in channels) or "none"
            complaints.append((key, f'this board has no channel "{said.channel[:40]}"', f"its channels are {there}"))
        elif (what := _unlike_its_unit(_changed(channels[at], said))) is not None:
            what = f"channel {said.channel[:40]} {what}"
            complaints.append((f"{key}.role", what, "choose a role that goes with its unit"))
        else:
            wanted[at] = said
    while True:  # all at once, so that two may exchange their places
        held = [_changed(each, wanted[k]) if k in wanted else each for k, each in enumerate(channels)]
        known = [_known_as(each) for each in held]
        at = next((k for k in reversed(wanted) if known.count(known[k]) > 1), None)
        if at is None:
            return tuple(held), tuple(complaints)
        what = f"two channels would be {held[at].role.name.lower()} at {held[at].place or 'no place'}"
        complaints.append((f"channels.{wanted.pop(at).channel}.place", what, "give each a place of its own"))


def _unlike_its_unit(channel: ChannelDescription) -> str | None:
    unit = _UNITS.get(channel.role)
    if unit is None or channel.unit in ("", unit):
        return None
    return f"measures in {channel.unit}, a {channel.role.name.lower()} is in {unit}"


def _index(channels: Sequence[ChannelDescription], wanted: str) -> int | None:
    """Where the channel of this name stands, or of this index in digits where none is called so."""
    named = (k for k, each in enumerate(channels) if each.name and each.name.casefold() == wanted.casefold())
    numbered = (k for k, each in enumerate(channels) if str(each.index) == wanted)
    return next(named, next(numbered, None))


def _changed(channel: ChannelDescription, said: ChannelSettings) -> ChannelDescription:
    role = Role[said.role.upper()] if said.role else channel.role
    return replace(channel, role=role, place=said.place or channel.place)


def _known_as(channel: ChannelDescription) -> tuple[Role, str]:
    """By what readings are told apart."""
    return channel.role, (channel.place or channel.name).casefold()
