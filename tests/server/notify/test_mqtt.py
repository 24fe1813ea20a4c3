import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import paho.mqtt.client as paho
import pytest
from paho.mqtt.enums import MQTTProtocolVersion

from server.notify import mqtt_session, worker
from server.notify.delivery import Delivery
from server.notify.mqtt_session import receipt_of
from server.notify.receivers import Mqtt
from server.notify.trouble import SendError
from tests.server.notify.broker import Archive, Broker, OldBroker, SlowWay
from tests.server.notify.hooks import certificate
from tests.server.notify.notices import notice, until

SETTINGS = '[mqtt.archive]\nhost = "127.0.0.1"\nport = {port}\nsecurity = "none"\nlocal = true\ntopic = "s"\n'


@pytest.fixture(autouse=True)
def _shorter(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(mqtt_session, "RECEIPT_S", 0.5)
    monkeypatch.setattr(worker, "NUDGED_S", 0.2)


@pytest.fixture
def broker(tmp_path: Path) -> Iterator[Broker]:
    made = Broker(tmp_path / "broker")
    made.start()
    yield made
    made.kill()


@pytest.fixture
def archive(broker: Broker) -> Iterator[Archive]:
    made = Archive(broker.port, "s", "receipts")
    yield made
    made.stop()


@pytest.fixture
def deliver(tmp_path: Path) -> Iterator[Callable[[str], Delivery]]:
    """Starts a delivery with these settings; each is a service that was started anew on the same folder."""
    made: list[Delivery] = []

    def begin(settings: str) -> Delivery:
        for before in made:
            before.stop()
        (tmp_path / "notify.toml").write_text(settings)
        started = Delivery(tmp_path, time.time)
        made.append(started)
        started.start()
        until(started.standings)
        return started

    yield begin
    for each in made:
        each.stop()


@pytest.fixture
def sent(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """Topics of all that this process sends, receipts of the archive apart."""
    topics: list[str] = []
    real = paho.Client.publish

    def publish(self: paho.Client, topic: str, *more: Any, **named: Any) -> paho.MQTTMessageInfo:
        topics.append(topic)
        return real(self, topic, *more, **named)

    monkeypatch.setattr(paho.Client, "publish", publish)
    return topics


def test_each_event_comes_once_and_in_order_to_the_archive_though_the_broker_is_killed_five_times(
    broker: Broker, archive: Archive, deliver: Callable[[str], Delivery], sent: list[str]
) -> None:
    delivery = deliver(SETTINGS.format(port=broker.port) + 'receipt_topic = "receipts"\n')
    wanted = [f"event-{number}" for number in range(300)]
    for event in wanted[:100]:
        delivery.deliver(notice(event))
    until(lambda: "s/notices" in sent)  # the archive is away at first
    archive.start()
    for kill in range(5):
        until(lambda so_far=20 + 40 * kill: len(archive.events()) > so_far)  # type: ignore[misc]
        broker.kill()
        for event in wanted[100 + 40 * kill : 140 + 40 * kill]:
            delivery.deliver(notice(event))
        broker.start()
    until(lambda: len(archive.events()) >= len(wanted))
    assert archive.events() == wanted
    assert sent.count("s/notices") <= 3 * len(wanted)
    until(lambda: delivery.standings()[0].queue.count == 0)


def test_without_a_receipt_an_entry_stays_until_the_broker_has_it_and_the_promise_says_so(
    broker: Broker, deliver: Callable[[str], Delivery]
) -> None:
    archive = Archive(broker.port, "s", "")
    archive.start()
    broker.kill()
    delivery = deliver(SETTINGS.format(port=broker.port))
    for number in range(5):
        delivery.deliver(notice(f"event-{number}"))
    until(lambda: delivery.standings()[0].error and delivery.standings()[0].queue.count == 6)  # with its own start
    standing = delivery.standings()[0]
    assert standing.error == f"127.0.0.1, port {broker.port}, cannot be reached (Connection refused); is it on?"
    assert abs(time.time() - (standing.queue.oldest_utc_s or 0)) < 5.0
    assert "may forget it, as no receipt is set up" in standing.promise
    broker.start()
    until(lambda: delivery.standings()[0].queue.count == 0)
    assert delivery.standings()[0].error == ""
    archive.stop()


def test_a_broker_that_acknowledges_later_than_is_waited_for_gets_each_once_and_all(
    broker: Broker, deliver: Callable[[str], Delivery], sent: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(mqtt_session, "TAKEN_S", 0.05)
    monkeypatch.setattr(mqtt_session, "CONNECT_S", 0.1)  # it greets later, too
    archive, way = Archive(broker.port, "s", ""), SlowWay(broker.port, 0.2)
    archive.start()
    delivery = deliver(SETTINGS.format(port=way.port) + "sign_of_life_min = 1\n")
    for number in range(3):
        delivery.deliver(notice(f"event-{number}"))
    until(lambda: delivery.standings()[0].queue.count == 0)
    assert archive.events() == ["event-0", "event-1", "event-2"]
    assert archive.came == sent.count("s/notices") == 4  # with its own start
    until(lambda: any(word.get("kind") == "sign_of_life" for word in archive.services))
    time.sleep(0.5)  # it was acknowledged by then
    assert sum(word.get("kind") == "sign_of_life" for word in archive.services) == 1
    way.close()
    archive.stop()


def test_a_message_that_the_broker_acknowledges_and_refuses_waits_and_that_is_told(
    tmp_path: Path, deliver: Callable[[str], Delivery]
) -> None:
    rules = tmp_path / "rules"
    rules.write_text("topic read #\n")
    rules.chmod(0o600)
    broker = Broker(tmp_path / "strict", f"acl_file {rules}\n")
    broker.start()
    delivery = deliver(SETTINGS.format(port=broker.port))
    until(lambda: delivery.standings()[0].error)
    assert delivery.standings()[0].queue.count == 1
    assert "refuses the message (Not authorized); may this user write" in delivery.standings()[0].error
    with pytest.raises(SendError, match="refuses the message"):
        delivery.test("archive")
    broker.kill()


def test_an_acknowledgement_that_is_lost_is_not_waited_for_for_ever(
    broker: Broker, deliver: Callable[[str], Delivery], sent: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(mqtt_session, "TAKEN_S", 0.05)
    monkeypatch.setattr(mqtt_session, "LATE_S", 0.3)
    real, lost = mqtt_session.Session._on_publish, list[int]()

    def once_lost(self: mqtt_session.Session, client: paho.Client, userdata: Any, mid: int, *more: Any) -> None:
        if mid == 2 and not lost:  # behind the word that the service runs
            return lost.append(mid)
        return real(self, client, userdata, mid, *more)

    monkeypatch.setattr(mqtt_session.Session, "_on_publish", once_lost)
    delivery = deliver(SETTINGS.format(port=broker.port))
    until(lambda: delivery.standings()[0].queue.count == 0)
    assert lost
    assert sent.count("s/notices") == 2


def test_the_service_is_seen_to_run_to_stop_in_order_and_to_be_gone(
    broker: Broker, archive: Archive, deliver: Callable[[str], Delivery]
) -> None:
    archive.start()
    delivery = deliver(SETTINGS.format(port=broker.port) + "sign_of_life_min = 1\n")
    until(lambda: any(word.get("kind") == "sign_of_life" for word in archive.services))
    delivery.stop()
    until(lambda: archive.services[-1]["service"] == "stopped")
    assert [m["title"] for kept in archive.stored.values() for m in kept] == [
        "Slipring has started",
        "Slipring was stopped in order; nothing is watched now",
    ]
    link = mqtt_session.Session(receiver(broker.port), MQTTProtocolVersion.MQTTv5, "x", lambda: None)
    link._client.socket().shutdown(2)  # type: ignore[union-attr]  # as when the PC loses its power
    until(lambda: archive.services[-1]["service"] == "gone")
    link.close()


def test_a_broker_that_knows_no_mqtt_5_is_spoken_to_in_3_1_1(
    tmp_path: Path, deliver: Callable[[str], Delivery]
) -> None:
    broker = OldBroker(tmp_path / "old")
    archive = Archive(broker.port, "s", "receipts", version=3)
    try:
        archive.start()
        delivery = deliver(SETTINGS.format(port=broker.port) + 'receipt_topic = "receipts"\n')
        wanted = [f"event-{number}" for number in range(40)]
        for event in wanted:
            delivery.deliver(notice(event))
        until(lambda: len(archive.events()) == len(wanted))
        assert archive.events() == wanted
        assert "by MQTT 3.1.1" in delivery.test("archive")
    finally:
        archive.stop()
        broker.kill()


def test_a_test_says_what_came_of_it(broker: Broker, archive: Archive, deliver: Callable[[str], Delivery]) -> None:
    archive.start()
    delivery = deliver(SETTINGS.format(port=broker.port))
    until(lambda: archive.services)
    said = delivery.test("archive")
    assert said.startswith("The broker took it after 0.")
    assert said.endswith("by MQTT 5; whether anybody reads it is not known, as no receipt_topic is set.")
    until(lambda: archive.words)
    assert archive.words[0]["kind"] == "test"
    broker.kill()
    until(lambda: delivery.standings()[0].error)
    with pytest.raises(SendError, match="cannot be reached"):
        delivery.test("archive")


def test_a_password_that_is_refused_is_told_without_it(tmp_path: Path, deliver: Callable[[str], Delivery]) -> None:
    broker = Broker(tmp_path / "closed", anonymous=False)
    broker.start()
    try:
        delivery = deliver(SETTINGS.format(port=broker.port) + 'user = "slipring"\npassword = "hunter2hunter2"\n')
        until(lambda: delivery.standings()[0].error)
        error = delivery.standings()[0].error
        assert error == "127.0.0.1 does not let us in (Not authorized); are user and password right?"
        assert (delivery.standings()[0].next_try_s or 0) > 500  # servers lock out who tries often
    finally:
        broker.kill()


def test_a_service_that_starts_anew_goes_on_with_what_waits(
    broker: Broker, archive: Archive, deliver: Callable[[str], Delivery]
) -> None:
    settings = SETTINGS.format(port=broker.port) + 'receipt_topic = "receipts"\n'
    broker.kill()
    deliver(settings).deliver(notice("before"))
    deliver(settings).deliver(notice("after"))
    broker.start()
    archive.start()
    until(lambda: len(archive.numbers()) == 5)
    titles = [message["title"] for kept in archive.stored.values() for message in kept]
    assert titles == [
        "Slipring has started",
        "Alarm on bench: Switch off. The current is above its limit for 5 s",
        "Slipring was stopped in order; nothing is watched now",
        "Slipring has started",
        "Alarm on bench: Switch off. The current is above its limit for 5 s",
    ]
    assert archive.numbers() == [1, 2, 3, 4, 5]


@pytest.mark.parametrize(
    "payload",
    [b"", b"x", b"[]", b"{}", b'{"origin": "a"}', b'{"origin": "a", "stored": "1"}', b'{"origin": 1, "stored": 1}',
     b'{"origin": "a", "stored": -1}', b'{"origin": "a", "stored": true}', b'{"origin": "a", "stored": 1e400}',
     b"[" * 900, b"\xff" * 20, b'{"origin": "a", "stored": 9223372036854775808}', b" " * 2000],
)  # fmt: skip
def test_what_is_no_receipt_is_not_heeded(payload: bytes) -> None:
    assert receipt_of(payload) is None
    assert receipt_of(b'{"origin": "a", "stored": 12}') == ("a", 12)


def receiver(port: int) -> Mqtt:
    return Mqtt("archive", True, "", 0.0, False, "127.0.0.1", port, "none", "", None, "s", "")


def test_over_tls_the_broker_must_be_the_one_that_is_meant(tmp_path: Path, deliver: Callable[[str], Delivery]) -> None:
    file, _ = certificate(tmp_path)
    broker = Broker(tmp_path / "tls", f"certfile {file}\nkeyfile {tmp_path / 'key.pem'}\n")
    broker.start()
    try:
        settings = SETTINGS.format(port=broker.port).replace('"none"', '"tls"')
        delivery = deliver(settings)
        until(lambda: delivery.standings()[0].error)
        assert "has no certificate that this PC trusts" in delivery.standings()[0].error
        delivery = deliver(f'{settings}ca_file = "{file}"\n')
        until(lambda: delivery.standings()[0].sent_utc_s)
        assert delivery.test("archive").startswith("The broker took it after 0.")
    finally:
        broker.kill()
