"""What was concluded last: how the board is connected, and the verdicts on the run."""

from dataclasses import dataclass

from server.config import Wires
from server.connection import Finding
from server.live.header import finding_record
from server.pipeline import Output
from server.verdict import Verdict
from server.wiring.names import names_of, with_lead
from server.wiring.shown import verdict_record


@dataclass(slots=True)
class Concluded:
    """`findings` of the connections, `verdicts` that stand, each as it was told last."""

    findings: tuple[Finding, ...] = ()
    verdicts: tuple[Verdict, ...] = ()

    def take(self, output: Output) -> None:
        """What one push brought."""
        if output.findings is not None:
            self.findings = output.findings
        if output.verdicts is not None:
            self.verdicts = output.verdicts

    def record(self, wires: Wires) -> dict[str, object]:
        """Its part of a picture; leads by what a person calls them."""
        names = names_of(wires)
        return {
            "findings": [finding_record(each) for each in self.findings],
            "verdicts": [verdict_record(with_lead(each, names)) for each in self.verdicts],
        }
