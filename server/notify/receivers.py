"""Where notices go, as the settings say it. Pure: secrets are read when they are used, and shown by nothing."""

from dataclasses import dataclass, field
from typing import TypeAlias


@dataclass(frozen=True, slots=True)
class Secret:
    """Where a secret is: in the settings themselves, in a file, or in a variable of the environment."""

    key: str  # as the settings call it
    value: str = field(default="", repr=False)
    file: str = ""
    variable: str = ""


@dataclass(frozen=True, slots=True)
class Receiver:
    """What all kinds have. `local`: its address may be this PC or a link-local one; `ca_file`: who signs for it.

    `everything`: it gets notices for others too, at once.
    """

    name: str
    local: bool
    ca_file: str
    sign_of_life_min: float  # 0: none
    everything: bool


@dataclass(frozen=True, slots=True)
class Webhook(Receiver):
    """The whole address is a secret, as its path often is one."""

    url: Secret
    token: Secret | None


@dataclass(frozen=True, slots=True)
class Mail(Receiver):
    host: str
    port: int
    security: str  # starttls, tls or none
    user: str
    password: Secret | None
    sender: str
    to: str


@dataclass(frozen=True, slots=True)
class Mqtt(Receiver):
    host: str
    port: int
    security: str  # tls or none
    user: str
    password: Secret | None
    topic: str
    receipt_topic: str  # empty: the broker's acknowledgement must do


AnyReceiver: TypeAlias = Webhook | Mail | Mqtt


def secrets_of(receiver: AnyReceiver) -> list[Secret]:
    """All that must stand in no log, answer or error."""
    if isinstance(receiver, Webhook):
        return [receiver.url, *([receiver.token] if receiver.token else [])]
    return [receiver.password] if receiver.password else []


def promise_of(receiver: AnyReceiver) -> str:
    """What it means that a message has left the outbox, in words."""
    if isinstance(receiver, Webhook):
        return "kept here until the receiver answers; what it gets twice has the same id"
    if isinstance(receiver, Mail):
        return "kept here until the mail server takes it; whether it arrives is not known"
    if receiver.receipt_topic:
        return "kept here until the receiver says that it is stored there; each one once and in order"
    return "kept here until the broker takes it; a broker that is killed may forget it, as no receipt is set up"
