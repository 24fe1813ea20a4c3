"""The scripts' token: compared in constant time, and wrong ones limited. The command line makes the file."""

import secrets
from collections import OrderedDict, deque

from server.web.origin import Headers, Refusal, all_values

WRONG_MAX = 10
WRONG_IN_S = 60.0
SOURCES_MAX = 256  # addresses remembered; loopback has two
_SCHEME = "bearer "


class Tokens:
    """Judges `Authorization: Bearer TOKEN`."""

    def __init__(self, token: str) -> None:
        if len(token.strip()) < 32:
            raise ValueError("the scripts' token is shorter than 32 characters: its file is damaged")
        self._token = token.strip().encode()
        self._wrong: OrderedDict[str, deque[float]] = OrderedDict()

    def judge(self, headers: Headers, source: str, now_s: float) -> Refusal | None:
        """None: the right token came. `source` is the address that it came from, `now_s` a clock that never steps."""
        given = all_values(headers, b"authorization")
        if not given:
            return Refusal(401, "A script needs the token of this service; slipring token tells where it is.")
        wrong = self._recent(source, now_s)
        if len(wrong) >= WRONG_MAX:
            wait_s = int(wrong[0] + WRONG_IN_S - now_s) + 1
            return Refusal(429, f"{WRONG_MAX} wrong tokens came in a minute; wait {wait_s} s.", wait_s)
        said = given[0]
        right = said[: len(_SCHEME)].lower() == _SCHEME and secrets.compare_digest(
            said[len(_SCHEME) :].strip().encode("latin-1", "replace"), self._token
        )
        if right and len(given) == 1:
            return None
        wrong.append(now_s)
        return Refusal(401, "The token is not the one of this service; slipring token tells where it is.")

    def _recent(self, source: str, now_s: float) -> deque[float]:
        wrong = self._wrong.setdefault(source, deque(maxlen=WRONG_MAX))
        self._wrong.move_to_end(source)
        while len(self._wrong) > SOURCES_MAX:
            self._wrong.popitem(last=False)
        while wrong and wrong[0] <= now_s - WRONG_IN_S:
            wrong.popleft()
        return wrong
