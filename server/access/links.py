"""One-time links: a secret that opens the page of this PC once, within an hour. Only digests are kept, in memory."""

import hashlib
import secrets

SECRET_BYTES = 32  # 256 bits
LINK_S = 3600.0
LINKS_MAX = 16  # waiting at once; the oldest gives way


def digest(secret: str) -> str:
    """What is kept of a secret."""
    return hashlib.sha256(secret.encode("utf-8", "surrogatepass")).hexdigest()


class Links:
    """`now_s` is a clock that never steps."""

    def __init__(self) -> None:
        self._until_s: dict[str, float] = {}

    def make(self, now_s: float) -> str:
        """A new secret for the fragment of a link."""
        secret = secrets.token_urlsafe(SECRET_BYTES)
        while len(self._until_s) >= LINKS_MAX:
            del self._until_s[next(iter(self._until_s))]
        self._until_s[digest(secret)] = now_s + LINK_S
        return secret

    def take(self, secret: str, now_s: float) -> bool:
        """Whether it opens the door. It never does so twice."""
        return self._until_s.pop(digest(secret), 0.0) > now_s
