"""Five thousand events to an archive behind a broker that is killed five times: `tests/server/notify`, large."""

import tempfile
import time
from pathlib import Path
from random import Random

from server.notify.delivery import Delivery
from server.notify.mqtt import MqttLink
from server.notify.outbox import Waiting
from tests.server.notify.broker import Archive, Broker
from tests.server.notify.notices import notice, until

EVENTS, KILLS = 5000, 5
AWAY_S = 10.0  # the archive, at first
TRAFFIC_MAX = 3.0
SETTINGS = (
    '[mqtt.archive]\nhost = "127.0.0.1"\nport = {port}\nsecurity = "none"\nlocal = true\n'
    'topic = "s"\nreceipt_topic = "r"\n'
)


def main(state: Path, seed: int) -> int:
    """Print what came; 0 if all events came once, in order, at no more than three times the traffic."""
    sent, real, dice = [0], MqttLink.deliver, Random(seed)

    def counted(self: MqttLink, origin: str, entries: list[Waiting]) -> int:
        sent[0] += len(entries)
        return real(self, origin, entries)

    MqttLink.deliver = counted  # type: ignore[method-assign,assignment]
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        broker = Broker(folder / "broker")
        broker.start()
        (folder / "notify.toml").write_text(SETTINGS.format(port=broker.port))
        delivery, archive = Delivery(folder, time.time), Archive(broker.port, "s", "r")
        wanted = [f"event-{number}" for number in range(EVENTS)]
        try:
            delivery.start()
            start_s = time.monotonic()
            for event in wanted:
                delivery.deliver(notice(event))
            time.sleep(AWAY_S)
            archive.start()
            for kill in range(1, KILLS + 1):
                until(lambda so_far=kill * EVENTS // (KILLS + 1): len(archive.events()) > so_far, 120)  # type: ignore[misc]
                broker.kill()
                time.sleep(dice.uniform(0.0, 2.0))
                broker.start()
            until(lambda: len(archive.events()) >= EVENTS, 120)
            until(lambda: delivery.standings()[0].queue.count == 0, 20)
            came, took_s = archive.events(), time.monotonic() - start_s
        finally:
            delivery.stop()
            archive.stop()
            broker.kill()
            MqttLink.deliver = real  # type: ignore[method-assign]
    print(f"{len(came)} of {EVENTS} events came, once and in order: {came == wanted}")
    print(f"sent {sent[0] / EVENTS:.2f} times each, seen by the archive {archive.came / EVENTS:.2f} times")
    print(f"{KILLS} kills of the broker, the archive away for the first {AWAY_S:.0f} s; {took_s:.0f} s")
    return 0 if came == wanted and sent[0] <= TRAFFIC_MAX * EVENTS else 1
