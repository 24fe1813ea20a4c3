"""Which version of SPEC.md this codec speaks, and which others it understands."""

PROTOCOL_MAJOR = 0
PROTOCOL_MINOR = 10


def understands(major: int, minor: int) -> bool:
    """Whether messages of that version can be read here: the same major version, whatever the minor one.

    While the major version is 0 nothing is promised yet, so the minor one must agree too.
    """
    return major == PROTOCOL_MAJOR and (PROTOCOL_MAJOR > 0 or minor == PROTOCOL_MINOR)
