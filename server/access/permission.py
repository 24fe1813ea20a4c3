"""The kinds of visitors and what a route may ask of them. Pure."""

from enum import StrEnum


class Kind(StrEnum):
    """As what somebody came in."""

    SCRIPT = "script"  # with the token of the data folder, on this PC
    BROWSER = "browser"  # with a one-time link, on this PC
    DEVICE = "device"  # paired, from the bench network


class Permission(StrEnum):
    """What a route needs. A paired device looks and marks by itself, and changes with the consent of the PC."""

    OPEN = "open"  # for strangers too: the door
    LOOK = "look"
    MARK = "mark"  # notes, held and kept pictures, playing: nothing is lost by it, no motor's settings change
    CHANGE = "change"  # settings, calibration, ports, deleting
    PC = "pc"  # never by another device: pairing, sessions, consent itself


BY_ITSELF = {
    Kind.SCRIPT: frozenset(Permission),
    Kind.BROWSER: frozenset(Permission),
    Kind.DEVICE: frozenset((Permission.OPEN, Permission.LOOK, Permission.MARK)),
}


def may(kind: Kind, permission: Permission) -> bool:
    """Whether this kind of visitor may do it by itself."""
    return permission in BY_ITSELF[kind]


def needs_consent(kind: Kind, permission: Permission) -> bool:
    """Whether it may be done once a person at the PC agrees."""
    return permission is Permission.CHANGE and not may(kind, permission)
