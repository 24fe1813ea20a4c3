"""A real Mosquitto with the settings that Debian ships, on a port of its own, and an archive behind it."""

import contextlib
import json
import os
import queue
import shutil
import socket
import subprocess
import threading
import time
from pathlib import Path
from typing import Any

import paho.mqtt.client as paho
import pytest
from paho.mqtt.enums import CallbackAPIVersion

MOSQUITTO = shutil.which("mosquitto") or shutil.which("mosquitto", path="/usr/sbin:/usr/local/sbin")
# Debian 12, /etc/mosquitto/mosquitto.conf, with folder and port of the test. Memory is written to disk every half hour.
_SHIPPED = "pid_file {folder}/pid\npersistence true\npersistence_location {folder}/\nlog_dest file {folder}/log\n"
_HERE = "listener {port} 127.0.0.1\nallow_anonymous {anonymous}\n"


def free_port() -> int:
    with socket.create_server(("127.0.0.1", 0)) as found:
        return int(found.getsockname()[1])


def _until_it_listens(port: int) -> None:
    start_s = time.monotonic()
    while True:
        try:
            return socket.create_connection(("127.0.0.1", port), 0.2).close()
        except OSError:
            assert time.monotonic() - start_s < 5.0, "the broker does not start"
            time.sleep(0.01)


class Broker:
    """`more`: further lines of its settings."""

    def __init__(self, folder: Path, more: str = "", anonymous: bool = True) -> None:
        if MOSQUITTO is None:
            pytest.skip("no mosquitto found: sudo apt install mosquitto")
        self.port = free_port()
        folder.mkdir(exist_ok=True)
        self._file = folder / "mosquitto.conf"
        text = _SHIPPED.format(folder=folder) + _HERE.format(port=self.port, anonymous=str(anonymous).lower())
        self._file.write_text(text + ("user root\n" if os.geteuid() == 0 else "") + more)
        self._process: subprocess.Popen[bytes] | None = None

    def start(self) -> None:
        assert MOSQUITTO
        self._process = subprocess.Popen(
            [MOSQUITTO, "-c", str(self._file)], stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
        )
        _until_it_listens(self.port)

    def kill(self) -> None:
        """As by SIGKILL: what it has only in memory is gone."""
        if self._process is not None:
            self._process.kill()
            self._process.wait(5)
            self._process = None


class SlowWay:
    """A way to a broker on which all that it says comes `late_s` later."""

    def __init__(self, port: int, late_s: float) -> None:
        self._to, self._late_s = port, late_s
        self._door = socket.create_server(("127.0.0.1", 0))
        self.port = int(self._door.getsockname()[1])
        threading.Thread(target=self._open, daemon=True).start()

    def close(self) -> None:
        self._door.close()

    def _open(self) -> None:
        with contextlib.suppress(OSError):  # closed
            while True:
                near, far = self._door.accept()[0], socket.create_connection(("127.0.0.1", self._to))
                for source, target, late_s in ((near, far, 0.0), (far, near, self._late_s)):
                    came = queue.SimpleQueue[tuple[float, bytes]]()
                    threading.Thread(target=self._take, args=(source, came), daemon=True).start()
                    threading.Thread(target=self._give, args=(target, came, late_s), daemon=True).start()

    def _take(self, source: socket.socket, came: "queue.SimpleQueue[tuple[float, bytes]]") -> None:
        said = b"-"
        while said:
            try:
                said = source.recv(65536)
            except OSError:
                said = b""
            came.put((time.monotonic(), said))

    def _give(self, target: socket.socket, came: "queue.SimpleQueue[tuple[float, bytes]]", late_s: float) -> None:
        with target, contextlib.suppress(OSError):
            while (said := came.get())[1]:
                time.sleep(max(0.0, said[0] + late_s - time.monotonic()))
                target.sendall(said[1])
            target.shutdown(socket.SHUT_RDWR)


class Archive:
    """Stores what comes in order, and says up to which number it has all: the rule that NOTIFY.md gives."""

    def __init__(self, port: int, topic: str, receipts: str, version: int = 5) -> None:
        self.stored: dict[str, list[dict[str, Any]]] = {}
        self.came = 0  # messages, repeated ones counted
        self.words: list[dict[str, Any]] = []  # what has no number
        self.services: list[dict[str, Any]] = []
        self._topic, self._receipts, self._port = topic, receipts, port
        self._lock = threading.Lock()
        protocol = paho.MQTTv5 if version == 5 else paho.MQTTv311
        self._client = paho.Client(CallbackAPIVersion.VERSION2, f"archive{port}", protocol=protocol)
        self._client.on_connect, self._client.on_message = self._on_connect, self._on_message
        self._client.on_socket_open = _send_at_once
        self._client.reconnect_delay_set(0.1, 0.1)  # type: ignore[arg-type]  # it takes any number

    def start(self) -> None:
        self._client.connect("127.0.0.1", self._port, 10)
        self._client.loop_start()

    def stop(self) -> None:
        self._client.disconnect()
        self._client.loop_stop()

    def numbers(self) -> list[int]:
        with self._lock:
            return [message["number"] for messages in self.stored.values() for message in messages]

    def events(self) -> list[str]:
        """The alarms' own ids, in the order in which they were stored."""
        with self._lock:
            return [m["alarm"] for messages in self.stored.values() for m in messages if "alarm" in m]

    def _on_connect(self, client: paho.Client, userdata: Any, flags: Any, code: Any, properties: Any) -> None:
        client.subscribe([(f"{self._topic}/notices", 1), (f"{self._topic}/service", 1)])
        for origin in list(self.stored):
            self._say(origin)

    def _on_message(self, client: paho.Client, userdata: Any, message: paho.MQTTMessage) -> None:
        said = json.loads(message.payload)
        if message.topic.endswith("/service"):
            self.services.append(said)
        elif "number" not in said:
            self.words.append(said)
        else:
            self.came += 1
            with self._lock:
                kept = self.stored.setdefault(said["origin"], [])
                has = kept[-1]["number"] if kept else said["after"]
                if said["after"] <= has < said["number"]:
                    kept.append(said)
            self._say(said["origin"])

    def _say(self, origin: str) -> None:
        if self._receipts and self.stored[origin]:
            stored = self.stored[origin][-1]["number"]
            self._client.publish(self._receipts, json.dumps({"origin": origin, "stored": stored}), 1, retain=True)


def _send_at_once(client: paho.Client, userdata: Any, opened: Any) -> None:
    opened.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)


class OldBroker:
    """A real broker that knows MQTT 3.1.1 only, and keeps sessions on disk."""

    def __init__(self, folder: Path) -> None:
        program = shutil.which("nats-server") or shutil.which("nats-server", path="/usr/sbin:/usr/local/sbin")
        if program is None:
            pytest.skip("no nats-server found: sudo apt install nats-server")
        self.port = free_port()
        folder.mkdir()
        text = f"server_name: test\nlisten: 127.0.0.1:{free_port()}\njetstream {{ store_dir: '{folder}' }}\n"
        (folder / "nats.conf").write_text(text + f"mqtt {{ listen: '127.0.0.1:{self.port}' }}\n")
        self._process = subprocess.Popen([program, "-c", str(folder / "nats.conf"), "-l", str(folder / "log")])
        _until_it_listens(self.port)

    def kill(self) -> None:
        self._process.kill()
        self._process.wait(5)
