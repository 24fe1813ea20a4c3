"""What every answer of the service must carry."""

from tests.server.web.bench import Service
from tests.server.web.test_origin import PORT

CARRIED = {
    "x-content-type-options": "nosniff",
    "referrer-policy": "no-referrer",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
}
POLICY = {  # directive and its only source, as Content Security Policy Level 3 writes them
    "default-src": "'none'",
    **dict.fromkeys(("script-src", "style-src", "connect-src", "img-src", "font-src"), "'self'"),
    **dict.fromkeys(("frame-ancestors", "base-uri", "form-action", "object-src"), "'none'"),
}


def at(service: Service, host: str) -> str:
    """A spelling of the table with the port that this service has."""
    return host.replace(str(PORT), str(service.port))


def ours(service: Service) -> str:
    return f"127.0.0.1:{service.port}"


def assert_protected(headers: dict[str, str]) -> None:
    assert {name: headers.get(name) for name in CARRIED} == CARRIED
    policy = dict(part.strip().split(" ", 1) for part in headers["content-security-policy"].split(";"))
    assert policy == POLICY
    assert headers["cache-control"] in ("no-store", "no-cache")
    assert "server" not in headers
    assert not [name for name in headers if name.startswith("access-control")]
