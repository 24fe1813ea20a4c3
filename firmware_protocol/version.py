"""Which version of SPEC.md this codec speaks, and which others it understands."""

PROTOCOL_MAJOR = 1
PROTOCOL_MINOR = 0

CANDIDATES = ((0, 10),)  # of 1.0, laid out as it is: boards and recordings that still say so are read


def understands(major: int, minor: int) -> bool:
    """Whether messages of that version can be read here: of the same major number, or of a candidate."""
    return major == PROTOCOL_MAJOR or (major, minor) in CANDIDATES


def version_to_ask(major: int, minor: int) -> tuple[int, int]:
    """The version in which a board of that version is asked: a candidate describes itself to its own alone."""
    return (major, minor) if (major, minor) in CANDIDATES else (PROTOCOL_MAJOR, PROTOCOL_MINOR)
