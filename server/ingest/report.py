"""How a port is, in words a person reads. Records only; the port fills it, the rig passes it on."""

from dataclasses import dataclass

NOT_READ = {  # kinds of damage reports after which nothing of a board is read, and what to do
    "description": "Put other firmware on the board.",
    "version": "Put firmware of this version on the board, or install the Slipring that speaks the board's.",
}


@dataclass(frozen=True, slots=True)
class PortReport:
    """`state` is one of no_board, connecting, live, disconnected, refused; `text` says what, `detail` what to do.

    `retry_s`: the port is tried again so many seconds after `since_utc_s`; None when it is open or not tried again.
    """

    state: str
    text: str
    detail: str
    since_utc_s: float
    port: str
    retry_s: float | None = None
    is_open: bool = False
