"""Which version of SPEC.md this codec speaks. Numbers only; who refuses whom is decided by their reader."""

PROTOCOL_MAJOR = 0
PROTOCOL_MINOR = 9
