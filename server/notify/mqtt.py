"""A receiver behind a broker: MQTT 5, or 3.1.1 where the broker knows no other.

A broker's acknowledgement is not durability: with a receipt topic an entry counts as received once the receiver itself
says that all up to it is stored. What was sent and got no receipt is sent again from the first such entry on.
"""

import contextlib
import time
from collections.abc import Callable, Sequence

from paho.mqtt.enums import MQTTProtocolVersion

from server.notify.link import ALIVE_TITLE, TEST_TITLE, message_of, word_of
from server.notify.mqtt_session import WINDOW, OtherVersionError, Session, UnderWay
from server.notify.outbox import Waiting
from server.notify.receivers import Mqtt
from server.notify.trouble import SendError


class MqttLink:
    """One connection, kept open. `heard` is called when the receiver says something while nothing is under way."""

    def __init__(self, receiver: Mqtt, identity: str, heard: Callable[[], None]) -> None:
        self._receiver, self._identity, self._heard = receiver, identity, heard
        self._version = MQTTProtocolVersion.MQTTv5
        self._session: Session | None = None
        self._at_once = 1

    @property
    def at_once(self) -> int:
        """One after a failure, then more and more: a receiver that is away costs one message an attempt."""
        return self._at_once

    def deliver(self, origin: str, entries: Sequence[Waiting]) -> int:
        session = self._connected()
        its, last = self._receiver, entries[-1].number
        if its.receipt_topic:
            session.forget_taken()  # and the receiver behind it has not, as it would have said so
        topic, sent = f"{its.topic}/notices", list[tuple[int, UnderWay]]()
        for entry in entries:
            sent.append((entry.number, session.publish((origin, entry.number), topic, message_of(origin, entry))))
        try:
            has = session.receipt(origin, entries[0].number, last) if its.receipt_topic else _taken(session, sent)
        except SendError:
            self._at_once = 1
            raise
        self._at_once = min(2 * self._at_once, WINDOW) if has >= last else 1
        return has

    def sign_of_life(self, utc_s: float) -> None:
        message = word_of("sign_of_life", ALIVE_TITLE, utc_s)
        self._told(self._connected(), {**message, "service": "running"}, retain=True)

    def tend(self) -> bool:
        self._connected().forget_taken()  # nothing waits; what came too late for a test, a sign of life
        return True

    def test(self, utc_s: float) -> str:
        session = self._connected()
        start_s = time.monotonic()
        message = session.publish(
            ("test", utc_s), f"{self._receiver.topic}/notices", word_of("test", TEST_TITLE, utc_s)
        )
        session.took(message)
        took = f"The broker took it after {time.monotonic() - start_s:.3f} s, by MQTT {session.spoken}"
        if not self._receiver.receipt_topic:
            return f"{took}; whether anybody reads it is not known, as no receipt_topic is set."
        return f"{took}; that a receiver stores messages is only known by its receipts."

    def close(self) -> None:
        session, self._session = self._session, None
        if session is not None:
            with contextlib.suppress(SendError):
                self._told(session, {"kind": "service", "service": "stopped"}, retain=True)
            session.close()

    def _told(self, session: Session, message: dict[str, object], retain: bool) -> None:
        session.wait(session.publish(message["service"], f"{self._receiver.topic}/service", message, retain))

    def _connected(self) -> Session:
        if self._session is not None and self._session.lost:
            self._session.close()
            self._session, self._at_once = None, 1
        if self._session is None:
            try:
                self._session = Session(self._receiver, self._version, self._identity, self._heard)
            except OtherVersionError as other:
                self._version = (
                    MQTTProtocolVersion.MQTTv311
                    if self._version == MQTTProtocolVersion.MQTTv5
                    else MQTTProtocolVersion.MQTTv5
                )
                if not other.sure:
                    raise
                self._session = Session(self._receiver, self._version, self._identity, self._heard)
        return self._session


def _taken(session: Session, sent: Sequence[tuple[int, UnderWay]]) -> int:
    """Up to which number the broker has acknowledged all."""
    has = 0
    for number, message in sent:
        try:
            session.took(message)
        except SendError:
            if not has:
                raise
            return has
        has = number
    return has
