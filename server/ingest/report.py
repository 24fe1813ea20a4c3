"""How a port is, in words a person reads. A record only; the port fills it, the rig passes it on."""

from dataclasses import dataclass


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
