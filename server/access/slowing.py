"""Wrong guesses are limited by where they come from. Pure: the clock is given."""

from collections import OrderedDict, deque
from ipaddress import IPv6Address, ip_address, ip_network

WRONG_MAX = 10
WRONG_IN_S = 60.0
SOURCES_MAX = 256  # remembered at once
_NETWORK = 64  # bits: one household of IPv6 addresses counts as one source (RFC 4291, 2.5.4)


def source_of(address: str) -> str:
    """What is counted as one: an IPv4 address, or the first half of an IPv6 address."""
    try:
        parsed = ip_address(address.partition("%")[0])
    except ValueError:
        return address
    if isinstance(parsed, IPv6Address) and not parsed.is_loopback:
        return str(ip_network((parsed, _NETWORK), strict=False))
    return str(parsed)


class Slowing:
    """Counts wrong guesses. Whoever made too many waits, with a right one too: so nobody learns that one was right."""

    def __init__(self) -> None:
        self._wrong: OrderedDict[str, deque[float]] = OrderedDict()

    def wait_s(self, source: str, now_s: float) -> int:
        """How long this source must wait before its next guess is looked at; 0: not at all."""
        wrong = self._recent(source, now_s)
        return int(wrong[0] + WRONG_IN_S - now_s) + 1 if len(wrong) >= WRONG_MAX else 0

    def was_wrong(self, source: str, now_s: float) -> None:
        """Count one."""
        self._recent(source, now_s).append(now_s)

    def _recent(self, source: str, now_s: float) -> deque[float]:
        source = source_of(source)
        wrong = self._wrong.setdefault(source, deque(maxlen=WRONG_MAX))
        self._wrong.move_to_end(source)
        while len(self._wrong) > SOURCES_MAX:
            self._wrong.popitem(last=False)
        while wrong and wrong[0] <= now_s - WRONG_IN_S:
            wrong.popleft()
        return wrong
