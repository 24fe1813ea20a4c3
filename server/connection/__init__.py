"""Is the board connected as it was meant? What windows of a running motor say of probes and sensors. Pure.

Layers in here: `wirings` and `sums` are geometry of phasors; `fitted`, `power`, `three` and `pairing` make findings of
one window; `hold` follows them over time. A braking or driven motor is never called wrong: what else it may be is said.
"""

from server.connection.finding import Correctness, Finding
from server.connection.hold import ConnectionCheck

__all__ = ["ConnectionCheck", "Correctness", "Finding"]
