"""One connection to a broker: how it begins, what the broker and the receiver behind it say, how it ends.

The library has a thread for it; what it tells is waited for here, each wait with its limit.
"""

import json
import socket
import ssl
import threading
import time
from collections.abc import Callable, Hashable, Mapping
from dataclasses import dataclass
from typing import Any

import paho.mqtt.client as paho
from paho.mqtt.enums import CallbackAPIVersion, MQTTProtocolVersion
from paho.mqtt.packettypes import PacketTypes
from paho.mqtt.properties import Properties
from paho.mqtt.reasoncodes import ReasonCode

from server.notify.link import packed
from server.notify.receivers import Mqtt
from server.notify.trouble import CONNECT_S, WHOLE_S, SendError, addresses_of, read_secret, refusal, said, trust

WINDOW = 32  # entries under way at most: what a broker that is killed can make us send twice
TAKEN_S = WHOLE_S  # for an acknowledgement, behind the greeting, which has as long; a later one counts the next time
LATE_S = 120.0  # an acknowledgement that has not come by then is lost: it is sent anew on a new connection
ASKED_S = 0.25  # for a better one, after a receipt that may be of earlier messages, or of a receiver that came back
RECEIPT_S = 3.0  # for the next receipt; then a receiver is taken to be away
KEEP_ALIVE_S = 15
SESSION_S = 7 * 86_400  # the broker keeps receipts for us as long as we keep messages
_QOS = 1
_RECEIPT_MAX = 1000  # bytes
_ORIGINS_MAX = 100  # outboxes that share a receiver; its receipts for more are not heeded
_NO_SUCH_VERSION = (1, 0x84)  # of MQTT 3.1.1, table 3.1, and of MQTT 5, 3.2.2.2
_NOT_LET_IN = (4, 5, 0x86, 0x87)


class OtherVersionError(SendError):
    """The next attempt should speak the other version; `sure`: the broker has said so."""

    def __init__(self, sentence: str, sure: bool) -> None:
        super().__init__(sentence)
        self.sure = sure


@dataclass(frozen=True, slots=True)
class UnderWay:
    """A message that was given to the broker."""

    key: Hashable  # what it says, whichever copy of it this is
    mid: int  # its number on the wire
    since_s: float  # monotonic


class Session:
    """One connection to the broker, with the thread of the library behind it. Raises SendError if it fails."""

    def __init__(self, receiver: Mqtt, version: MQTTProtocolVersion, identity: str, heard: Callable[[], None]) -> None:
        self._receiver, self._heard = receiver, heard
        self._changed = threading.Condition()
        self._answer: ReasonCode | None = None
        self._subscribed = False
        self._under_way: dict[Hashable, UnderWay] = {}  # not more than the library takes, and what is waited for
        self._taken: set[int] = set()  # what the broker has acknowledged
        self._refused: dict[int, str] = {}  # what of it it will not have, and its words
        self._stored: dict[str, int] = {}  # by outbox: all up to this number, as the receiver says
        self._waits, self._asks = False, False
        self.lost = ""  # why the connection is gone
        self.spoken = "5" if version == MQTTProtocolVersion.MQTTv5 else "3.1.1"
        self._client = self._made(version, identity)
        self._open(version)

    def publish(self, key: Hashable, topic: str, message: Mapping[str, object], retain: bool = False) -> UnderWay:
        """Sent unless it is under way already: a broker that is slow would get it again and again."""
        its, host = self._under_way.get(key), self._receiver.host
        if its is not None and time.monotonic() - its.since_s <= LATE_S:
            return its
        if its is not None:
            self.lost = self.lost or "no acknowledgement"
            raise SendError(f"{host} has not acknowledged a message for {LATE_S:.0f} s; it is connected to anew.")
        try:
            sent = self._client.publish(topic, packed(message), _QOS, retain)
        except ValueError as error:
            raise SendError(f"{host}: it cannot be sent ({said(error)}).") from None
        if sent.rc == paho.MQTT_ERR_QUEUE_SIZE:
            raise SendError(f"{host} has not acknowledged {4 * WINDOW} messages; it is sent later.")
        made = self._under_way[key] = UnderWay(key, sent.mid, time.monotonic())
        return made

    def took(self, message: UnderWay) -> None:
        """Wait until the broker has taken it: MQTT 5 may acknowledge and refuse at once (3.4.2.1)."""
        if why := self.wait(message):
            host = self._receiver.host
            raise SendError(f"{host} refuses the message ({why}); may this user write under topic?")

    def wait(self, message: UnderWay) -> str:
        """Until the broker has acknowledged it; why it refuses it, or empty."""
        until_s = time.monotonic() + TAKEN_S
        with self._changed:
            while message.mid not in self._taken:
                self._wait_until(until_s, f"is connected but acknowledged no message within {TAKEN_S:.0f} s")
            self._taken.discard(message.mid)
            self._under_way.pop(message.key, None)
            return self._refused.pop(message.mid, "")

    def forget_taken(self) -> None:
        """What the broker has acknowledged is no longer under way: it may be sent again."""
        with self._changed:
            self._under_way = {key: its for key, its in self._under_way.items() if its.mid not in self._taken}
            self._taken.clear()
            self._refused.clear()

    def receipt(self, origin: str, first: int, last: int) -> int:
        """Wait until the receiver has all from `first` to `last`; up to which number it says that it has all.

        Less than `last` where it says nothing new for a while. One that has come back says what it had: less than
        `first`, so what was sent before it was there has to be sent again, and that is not waited for long.
        """
        with self._changed:
            until_s, had = time.monotonic() + RECEIPT_S, self._stored.get(origin)
            self._waits, self._asks = True, False
            try:
                while (stored := self._stored.get(origin, -1)) < last:
                    if self._asks and stored < first:
                        until_s, self._asks = min(until_s, time.monotonic() + ASKED_S), False
                    if stored != had:
                        until_s, had = time.monotonic() + RECEIPT_S, stored
                    self._wait_until(until_s, "took the messages, but no receipt comes from the receiver behind it")
            except SendError:
                if stored < 0 or self.lost:
                    raise
            finally:
                self._waits = False
            return stored

    def close(self) -> None:
        self._client.disconnect()
        self._client.loop_stop()

    def _wait_until(self, until_s: float, what: str) -> None:
        if self.lost:
            raise SendError(f"{self._receiver.host} closed the connection ({self.lost}); it is opened again.")
        left_s = until_s - time.monotonic()
        if left_s <= 0:
            raise SendError(f"{self._receiver.host} {what}; it is sent again.")
        self._changed.wait(left_s)

    def _made(self, version: MQTTProtocolVersion, identity: str) -> paho.Client:
        its, five = self._receiver, version == MQTTProtocolVersion.MQTTv5
        client = paho.Client(
            CallbackAPIVersion.VERSION2,
            identity,
            clean_session=None if five else False,
            protocol=version,
            reconnect_on_failure=False,
        )
        client.connect_timeout = CONNECT_S
        client.max_inflight_messages_set(2 * WINDOW)
        client.max_queued_messages_set(2 * WINDOW)
        if its.password is not None:
            client.username_pw_set(its.user, read_secret(its.password))
        if its.security == "tls":
            context = trust(its.ca_file)
            context.sslsocket_class = _Shaken
            client.tls_set_context(context)
        gone = {"kind": "service", "service": "gone"}
        client.will_set(f"{its.topic}/service", packed(gone), _QOS, retain=True)
        client.on_socket_open = _send_at_once
        client.on_connect, client.on_disconnect = self._on_connect, self._on_disconnect
        client.on_subscribe, client.on_message, client.on_publish = (
            self._on_subscribe,
            self._on_message,
            self._on_publish,
        )
        return client

    def _open(self, version: MQTTProtocolVersion) -> None:
        its = self._receiver
        addresses_of(its.host, its.port, its.local)
        until_s = time.monotonic() + WHOLE_S
        try:
            if version == MQTTProtocolVersion.MQTTv5:
                kept = Properties(PacketTypes.CONNECT)  # type: ignore[no-untyped-call]  # the library gives it no types
                kept.SessionExpiryInterval = SESSION_S
                self._client.connect(its.host, its.port, KEEP_ALIVE_S, clean_start=False, properties=kept)
            else:
                self._client.connect(its.host, its.port, KEEP_ALIVE_S)
        except (OSError, ValueError) as error:
            raise SendError(refusal(its.host, its.port, error)) from None
        self._client.loop_start()
        try:
            self._greeted(until_s)
            self._client.publish(f"{its.topic}/service", packed({"kind": "service", "service": "running"}), _QOS, True)
            if its.receipt_topic:
                self._client.subscribe(its.receipt_topic, _QOS)
                with self._changed:
                    while not self._subscribed:
                        self._wait_until(until_s, "does not let us read the receipts")
        except SendError:
            self.close()
            raise

    def _greeted(self, until_s: float) -> None:
        host = self._receiver.host
        with self._changed:
            while self._answer is None:
                if self.lost:
                    raise OtherVersionError(
                        f"{host} closed the connection before it said anything; is it a broker?", False
                    )
                self._wait_until(until_s, f"is connected but does not greet us within {WHOLE_S:.0f} s; is it a broker")
            code, words = self._answer.value, said(self._answer)
        if code in _NO_SUCH_VERSION:
            raise OtherVersionError(f"{host} does not speak MQTT {self.spoken}; another version is tried.", True)
        if code in _NOT_LET_IN:
            raise SendError(f"{host} does not let us in ({words}); are user and password right?", lasting=True)
        if code:
            raise SendError(f"{host} refuses the connection ({words}); it is tried again.")

    def _on_connect(self, client: paho.Client, userdata: Any, flags: Any, code: ReasonCode, properties: Any) -> None:
        with self._changed:
            self._answer = code
            self._changed.notify_all()

    def _on_disconnect(self, client: paho.Client, userdata: Any, flags: Any, code: ReasonCode, properties: Any) -> None:
        with self._changed:
            self.lost = said(code) or "no reason told"
            self._changed.notify_all()

    def _on_subscribe(self, client: paho.Client, userdata: Any, mid: int, codes: Any, properties: Any) -> None:
        with self._changed:
            self._subscribed = all(code.value < 0x80 for code in codes)
            self._changed.notify_all()

    def _on_publish(self, client: paho.Client, userdata: Any, mid: int, code: ReasonCode, properties: Any) -> None:
        with self._changed:
            self._taken.add(mid)
            if code.value >= 0x80:
                self._refused[mid] = said(code)
            self._changed.notify_all()

    def _on_message(self, client: paho.Client, userdata: Any, message: paho.MQTTMessage) -> None:
        receipt = receipt_of(message.payload)
        with self._changed:
            if receipt is None or (len(self._stored) >= _ORIGINS_MAX and receipt[0] not in self._stored):
                return
            self._stored[receipt[0]] = receipt[1]
            self._asks = self._asks or not message.retain
            self._changed.notify_all()
            waits = self._waits
        if not waits:
            self._heard()


class _Shaken(ssl.SSLSocket):
    """Closed where the two do not agree: the library would leave it open."""

    def do_handshake(self, block: bool = False) -> None:
        self.settimeout(WHOLE_S)
        try:
            super().do_handshake(block)
        except Exception:  # whatever stopped it goes on up; only the socket must not stay open
            self.close()
            raise


def _send_at_once(client: paho.Client, userdata: Any, opened: Any) -> None:
    """Small packets that wait for one another's acknowledgement would take a tenth of a second each."""
    opened.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)


def receipt_of(payload: bytes | bytearray) -> tuple[str, int] | None:
    """All up to which number of which outbox is stored; None: this is no receipt."""
    if len(payload) > _RECEIPT_MAX:
        return None
    try:
        receipt = json.loads(payload)
        origin, stored = receipt["origin"], receipt["stored"]
    except (ValueError, KeyError, TypeError, RecursionError):
        return None
    return (origin, stored) if isinstance(origin, str) and type(stored) is int and 0 <= stored < 2**63 else None
