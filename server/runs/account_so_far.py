"""The account of the run that is open, counted as its entries are handed to the disk. Pure."""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from server.runs.account import Account
from server.runs.layout import Entry, Kind


@dataclass(frozen=True, slots=True)
class Counted:
    """`lines` as in `Account.record`; `from_utc_s`: the service began to count in the middle of the run, None: all of
    it was counted."""

    lines: list[dict[str, Any]]
    from_utc_s: float | None = None


class AccountSoFar:
    """Give it all entries that are recorded. A run that is gone on with after a restart is counted from there on."""

    def __init__(self) -> None:
        self._account: Account | None = None
        self._from_utc_s: float | None = None

    def take(self, entries: Iterable[Entry]) -> None:
        """The next entries."""
        for entry in entries:
            if self._account is None or entry.kind is Kind.OPEN:
                self._account = Account()
                self._from_utc_s = None if entry.kind is Kind.OPEN else entry.utc_s
            self._account.take(entry)
            if entry.kind is Kind.CLOSE:
                self._account = None

    def counted(self) -> Counted:
        """Up to now; no lines where no run is open."""
        return Counted([] if self._account is None else self._account.record(), self._from_utc_s)
