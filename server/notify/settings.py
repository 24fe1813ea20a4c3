"""TOML text -> receivers. Pure; opens no file. A refusal names file, line, what is wrong and what to write instead.

What a person wrote stands in no refusal, only which key it is of: it may be a secret in the wrong place.
"""

import re
from dataclasses import dataclass
from difflib import get_close_matches
from email.utils import parseaddr
from typing import Any, TypeAlias
from urllib.parse import urlsplit

from server.config import ConfigError
from server.notify.receivers import AnyReceiver, Mail, Mqtt, Secret, Webhook
from server.settings.key_lines import key_lines
from server.settings.rules import Number, Text, short, wrong
from server.settings.tables import TEXT_MAX, Source
from server.settings.text import NAME
from server.settings.toml_text import toml_tables

RECEIVERS_MAX = 16  # each has a thread
KINDS = ("webhook", "mail", "mqtt")
_SPELLINGS = {"": "value", "_file": "file", "_env": "variable"}
_HOST = re.compile(r"[A-Za-z0-9._-]{1,253}|[0-9A-Fa-f:.]{2,45}")


@dataclass(frozen=True, slots=True)
class Flag:
    """true or false."""


Rule: TypeAlias = Number | Text | Flag
_ALL: dict[str, Rule] = {
    "everything": Flag(),
    "local": Flag(),
    "ca_file": Text(),
    "sign_of_life_min": Number(1, 10_080, "60"),
}
_PORT = Number(1, 65_535, "8883", whole=True)
_KEYS: dict[str, dict[str, Rule]] = {
    "webhook": _ALL,
    "mail": {
        **_ALL,
        "host": Text(),
        "port": _PORT,
        "security": Text(("starttls", "tls", "none")),
        "user": Text(),
        "from": Text(),
        "to": Text(),
    },
    "mqtt": {
        **_ALL,
        "host": Text(),
        "port": _PORT,
        "security": Text(("tls", "none")),
        "user": Text(),
        "topic": Text(),
        "receipt_topic": Text(),
    },
}
_SECRETS = {"webhook": ("url", "token"), "mail": ("password",), "mqtt": ("password",)}
_PORTS = {"starttls": 587, "tls": 465, "none": 25}
_MQTT_PORTS = {"tls": 8883, "none": 1883}


def parse_receivers(text: str, file: str) -> tuple[AnyReceiver, ...]:
    """The receivers in the text of a file, in its order. Raises ConfigError."""
    tables = toml_tables(text, file, TEXT_MAX, 'url = "https://example.org/hook" below [webhook.NAME]', tell=False)
    source = Source(file, key_lines(text), tables)
    found: dict[str, AnyReceiver] = {}
    for kind, its in tables.items():
        if kind not in KINDS:
            first = next((path for path in source.lines if path.partition(".")[0] == kind), kind)
            near = get_close_matches(kind, KINDS, n=1)
            instead = f"write [{near[0]}.NAME]" if near else "there are [webhook.NAME], [mail.NAME] and [mqtt.NAME]"
            raise source.error(first, "this is no kind of receiver", instead)
        source.is_table(its, kind)
        for name, table in its.items():
            place = _Place(source, f"{kind}.{name}")
            if name in found:
                raise place.error("", f'there is a receiver "{short(name)}" already', "choose another name")
            if len(found) == RECEIVERS_MAX:
                raise place.error("", f"these are more than {RECEIVERS_MAX} receivers", "take some out")
            found[name] = _receiver(kind, name, table, place)
    return tuple(found.values())


@dataclass(frozen=True, slots=True)
class _Place:
    """A table of the file, for the refusals."""

    source: Source
    path: str

    def error(self, key: str, what: str, instead: str) -> ConfigError:
        return self.source.error(f"{self.path}.{key}" if key else self.path, what, instead)


def _receiver(kind: str, name: str, table: Any, place: _Place) -> AnyReceiver:
    if not NAME.fullmatch(name):
        raise place.error("", "a receiver cannot be called so", "use letters, digits, - and _, at most 40")
    if not isinstance(table, dict):
        raise place.error("", "this is a value", f"write [{kind}.NAME] and its keys below it")
    known = (*_KEYS[kind], *(key + ending for key in _SECRETS[kind] for ending in _SPELLINGS))
    if (odd := next((key for key in table if key not in known), None)) is not None:
        near = get_close_matches(odd, known, n=1, cutoff=0.5)
        instead = f"write {near[0]}" if near else f"known are {', '.join(known)}"
        raise place.error(odd, f"this is not a key of [{place.path}]", instead)
    values = {key: _value(key, table[key], rule, place) for key, rule in _KEYS[kind].items() if key in table}
    shared = {
        "name": name,
        "local": values.get("local", False),
        "ca_file": values.get("ca_file", ""),
        "sign_of_life_min": float(values.get("sign_of_life_min", 0.0)),
        "everything": values.get("everything", False),
    }
    if kind == "webhook":
        return _webhook(table, shared, place)
    password, host = _secret("password", table, place), values.get("host", "")
    if not _HOST.fullmatch(host):
        what = "host: this is no name of a server" if "host" in values else "host is missing"
        raise place.error("host", what, 'write host = "mail.example.org"')
    if (password is None) != (not values.get("user")):
        missing, given = ("password", "user") if password is None else ("user", "password")
        raise place.error(given, f"{given} stands without {missing}", f"write {missing} = ... or take {given} out")
    shared |= {"host": host, "user": values.get("user", ""), "password": password}
    return _mail(values, shared, place) if kind == "mail" else _mqtt(values, shared, place)


def _webhook(table: dict[str, Any], shared: dict[str, Any], place: _Place) -> Webhook:
    url = _secret("url", table, place)
    if url is None:
        raise place.error("url", "url is missing", 'write url = "https://example.org/hook", or url_file, or url_env')
    if url.value and (wrong_with := wrong_address(url.value)):
        raise place.error("url", f"url: {wrong_with}", 'write url = "https://example.org/hook"')
    return Webhook(url=url, token=_secret("token", table, place), **shared)


def wrong_address(url: str) -> str:
    """What is wrong with the address of a webhook, without telling it; empty: nothing."""
    try:
        parts = urlsplit(url)
        if parts.scheme not in ("http", "https") or not parts.hostname:
            return "this is no address of the web"
        if parts.username or parts.password:
            return "a name or password stands in it; token goes into a line of its own"
        return (
            "" if parts.port != 0 and url.isascii() and url.isprintable() and " " not in url else "it cannot be asked"
        )
    except ValueError:
        return "this is no address of the web"


def _mail(values: dict[str, Any], shared: dict[str, Any], place: _Place) -> Mail:
    security = values.get("security", "starttls")
    if security == "none" and shared["password"] is not None:
        what = 'security = "none": anybody on the way could read the password'
        raise place.error("security", what, 'write "starttls" or "tls", or take user and password out')
    for key in ("from", "to"):
        address = values.get(key, "")
        if parseaddr(address)[1] != address or not re.fullmatch(r"[!-?A-~]+@[!-?A-~]+", address):
            what = f"{key}: this is no mail address" if address else f"{key} is missing"
            raise place.error(key, what, f'write {key} = "name@example.org"')
    port = values.get("port", _PORTS[security])
    return Mail(port=port, security=security, sender=values["from"], to=values["to"], **shared)


def _mqtt(values: dict[str, Any], shared: dict[str, Any], place: _Place) -> Mqtt:
    security = values.get("security", "tls")
    topic, receipt = values.get("topic", "slipring"), values.get("receipt_topic", "")
    for key, its in (("topic", topic), ("receipt_topic", receipt)):
        if set("+#") & set(its) or its.startswith("$") or len(its.encode()) > 200 or (key == "topic" and not its):
            what = f"{key}: nothing can be sent under this name"
            raise place.error(key, what, "write a name such as slipring, without + # or a leading $")
    if receipt and (receipt == topic or receipt.startswith(f"{topic}/")):
        what = "receipt_topic: this service sends there itself"
        raise place.error("receipt_topic", what, 'write another, such as "archive/receipts"')
    port = values.get("port", _MQTT_PORTS[security])
    return Mqtt(port=port, security=security, topic=topic, receipt_topic=receipt, **shared)


def _secret(key: str, table: dict[str, Any], place: _Place) -> Secret | None:
    given = [key + ending for ending in _SPELLINGS if key + ending in table]
    if not given:
        return None
    if len(given) > 1:
        raise place.error(given[1], f"{given[0]} and {given[1]} both stand here", "write one of them")
    value = table[given[0]]
    if not isinstance(value, str) or not value:
        raise place.error(given[0], f"{given[0]} is not text", f'write {given[0]} = "..."')
    return Secret(f"[{place.path}] {given[0]}", **{_SPELLINGS[given[0].removeprefix(key)]: value})


def _value(key: str, value: Any, rule: Rule, place: _Place) -> Any:
    if isinstance(rule, Flag):
        if not isinstance(value, bool):
            raise place.error(key, f"{key}: this is not true or false", f"write {key} = true")
        return value
    if complaint := wrong(value, rule):
        instead = complaint[1] if isinstance(value, str) or isinstance(rule, Number) else 'it in quotes: "..."'
        raise place.error(key, f"{key}: {complaint[0]}", f"write {instead}")
    return value
