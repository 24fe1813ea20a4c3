import socket
import time
from pathlib import Path

import pytest

from server.notify import trouble
from server.notify.outbox import Waiting
from server.notify.receivers import Secret, Webhook
from server.notify.trouble import RefusedError, SendError, masked
from server.notify.webhook import WebhookLink, webhook_place
from tests.server.notify.hooks import SLOW_S, certificate, hooks

SECRET, TOKEN = "/hook/T0pS3cret-of-the-path", "bearer-S3cret-of-the-token"
ENTRY = Waiting(7, 6, 1_795_600_000.0, {"kind": "raised", "rank": "alarm", "title": "Alarm on bench: Switch off"})


def link(
    port: int, scheme: str = "http", host: str = "127.0.0.1", local: bool = True, ca_file: str = ""
) -> WebhookLink:
    return WebhookLink(receiver(port, scheme, host, local, ca_file))


def receiver(
    port: int, scheme: str = "http", host: str = "127.0.0.1", local: bool = True, ca_file: str = ""
) -> Webhook:
    url = Secret("[webhook.a] url", f"{scheme}://{host}:{port}{SECRET}")
    return Webhook("a", local, ca_file, 0.0, False, url, Secret("[webhook.a] token", TOKEN))


def refusal(its: WebhookLink) -> str:
    with pytest.raises(SendError) as found:
        its.deliver("0123", [ENTRY])
    return str(found.value)


def test_a_message_is_posted_as_json_with_the_same_id_each_time() -> None:
    with hooks("500", "take", "take") as hook:
        its = link(hook.port)
        assert refusal(its).startswith("127.0.0.1 did not take it (HTTP 500")
        assert its.deliver("0123", [ENTRY]) == 7
        assert its.deliver("0123", [ENTRY]) == 7
        first, second = hook.came
        assert first == second
        assert first == {**ENTRY.record, "id": "0123-7", "origin": "0123", "number": 7, "after": 6,
                         "made": "2026-11-25 09:46:40 UTC"}  # fmt: skip
        assert hook.headers[0]["Idempotency-Key"] == '"0123-7"'
        assert hook.headers[0]["Authorization"] == f"Bearer {TOKEN}"


@pytest.mark.parametrize("code", [400, 403, 404, 405, 410, 413, 415, 422, 451])
def test_what_speaks_of_the_message_or_the_address_is_a_refusal(code: int) -> None:
    with hooks(str(code)) as hook, pytest.raises(RefusedError, match=f"HTTP {code}"):
        link(hook.port).test(0.0)


@pytest.mark.parametrize("code", [401, 408, 421, 425, 429, 500, 502, 503, 507])
def test_what_speaks_of_the_moment_or_the_password_is_none(code: int) -> None:
    with hooks(str(code)) as hook, pytest.raises(SendError, match=f"HTTP {code}") as found:
        link(hook.port).test(0.0)
    assert not isinstance(found.value, RefusedError)


def test_a_redirect_is_not_followed() -> None:
    with hooks("redirect") as hook:
        said = refusal(link(hook.port))
        assert said.startswith("127.0.0.1 sends us elsewhere (HTTP 307 Temporary Redirect), which is not followed;")
        assert hook.asked == 1


@pytest.mark.parametrize(
    "host", ["127.0.0.1", "localhost", "2130706433", "0x7f.1", "0.0.0.0", "[::1]", "[::ffff:127.0.0.1]"]
)
def test_this_pc_is_not_asked_unless_the_settings_say_so(host: str) -> None:
    with hooks() as hook:
        said = refusal(link(hook.port, host=host, local=False))
        which = "is this PC itself or a link-local address; write local = true"
        assert f" at {host}, {which}" not in said, "it is not said twice"
        named = host in ("localhost", "2130706433", "0x7f.1")
        assert (f", which {which}" if named else f"{host.strip('[]')} {which}") in said
        assert hook.asked == 0


@pytest.mark.parametrize("host", ["169.254.169.254", "[fe80::1]", "[::ffff:169.254.169.254]", "224.0.0.1"])
def test_a_link_local_address_is_not_asked(host: str) -> None:
    assert "link-local address" in refusal(link(80, host=host, local=False))


def test_a_name_that_is_judged_is_the_one_that_is_asked(monkeypatch: pytest.MonkeyPatch) -> None:
    """A name server that answers otherwise the second time is not asked a second time."""
    answers = ["192.0.2.1", "127.0.0.1"]
    real = socket.getaddrinfo
    asked: list[str] = []

    def resolve(host: str, *more: object, **named: object) -> object:
        asked.append(host)
        return real(answers.pop(0) if host == "hooks.example" else host, *more, **named)  # type: ignore[arg-type]

    monkeypatch.setattr(socket, "getaddrinfo", resolve)
    monkeypatch.setattr(trouble, "CONNECT_S", 0.05)
    with hooks() as hook:
        refusal(link(hook.port, host="hooks.example", local=False))
        assert hook.asked == 0
    assert asked.count("hooks.example") == 1


@pytest.mark.parametrize("act", ["hang", "drip"])
def test_a_receiver_that_hangs_or_drips_is_left_after_a_while(act: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(trouble, "WHOLE_S", 0.6)
    with hooks(act) as hook:
        start_s = time.monotonic()
        assert refusal(link(hook.port)) == (
            f"127.0.0.1, port {hook.port}, is connected but gave no answer within 1 s; it is too slow or hangs, "
            "look at the program there."
        )
        assert 0.5 < time.monotonic() - start_s < 1.5


def test_a_receiver_that_takes_longer_to_answer_than_to_be_connected_has_the_whole_time_of_an_attempt(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(trouble, "CONNECT_S", SLOW_S / 4)
    monkeypatch.setattr(trouble, "WHOLE_S", 4 * SLOW_S)
    with hooks("slow") as hook:
        assert link(hook.port).deliver("0123", [ENTRY]) == 7
        assert len(hook.came) == 1


def test_a_port_that_takes_no_connection_is_left_after_the_time_for_that(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(trouble, "CONNECT_S", 0.2)
    with socket.create_server(("127.0.0.1", 0), backlog=0) as full:
        port = full.getsockname()[1]
        before = [socket.create_connection(("127.0.0.1", port), 1.0)]  # nobody takes it: there is room for no more
        start_s = time.monotonic()
        assert refusal(link(port)) == f"127.0.0.1, port {port}, does not answer; is it on?"
        assert time.monotonic() - start_s < 1.0
        before[0].close()


def test_what_speaks_no_http_is_told() -> None:
    with hooks("rubbish") as hook:
        assert refusal(link(hook.port)) == (
            f"127.0.0.1, port {hook.port}, does not answer in HTTP; is the address right?"
        )


def test_a_server_that_is_off_is_told() -> None:
    with hooks() as hook:
        port = hook.port
    assert refusal(link(port)) == f"127.0.0.1, port {port}, cannot be reached (Connection refused); is it on?"


def test_a_name_that_nobody_knows_is_told() -> None:
    assert refusal(link(80, host="no-such-host.invalid")).startswith("no-such-host.invalid is not found (")


def test_a_certificate_that_nobody_signed_is_refused_unless_it_is_named(tmp_path: Path) -> None:
    file, context = certificate(tmp_path)
    with hooks(context=context) as hook:
        said = refusal(link(hook.port, "https"))
        assert "has no certificate that this PC trusts" in said
        assert hook.came == []
        assert "does not speak TLS as it should" in refusal_of_plain(hook.port, file)
        link(hook.port, "https", ca_file=str(file)).deliver("0123", [ENTRY])
        assert len(hook.came) == 1
    assert refusal(link(hook.port, "https", ca_file="/no/file")).startswith("127.0.0.1, port")


def refusal_of_plain(port: int, file: Path) -> str:
    with hooks() as plain:
        return refusal(link(plain.port, "https", ca_file=str(file)))


@pytest.mark.parametrize("status", ["401", "403", "500"])
def test_no_secret_stands_in_what_is_told_though_the_server_gives_it_back(status: str) -> None:
    with hooks(status) as hook:
        its = receiver(hook.port)
        said = masked(refusal(WebhookLink(its)), [its.url, Secret("token", TOKEN)])
    assert status in said
    assert SECRET not in said
    assert TOKEN not in said


def test_the_place_shows_the_server_and_not_the_path() -> None:
    its = receiver(8443, "https", "hooks.example")
    assert webhook_place(its) == "https://hooks.example:8443"
    assert SECRET not in repr(its)
    assert TOKEN not in repr(its)


def test_a_secret_in_a_file_is_read_when_it_is_used(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    file = tmp_path / "url"
    with hooks() as hook:
        its = WebhookLink(Webhook("a", True, "", 0.0, False, Secret("[webhook.a] url_file", file=str(file)), None))
        assert refusal(its) == (
            "[webhook.a] url_file: this file cannot be read (No such file or directory); make it readable for Slipring."
        )
        file.write_text("nonsense\n")
        assert "this is no address of the web" in refusal(its)
        file.write_text(f"http://127.0.0.1:{hook.port}/x\n")
        its.deliver("0123", [ENTRY])
        by_env = WebhookLink(Webhook("a", True, "", 0.0, False, Secret("[webhook.a] url_env", variable="HOOK"), None))
        assert "the service's environment has no variable of this name" in refusal(by_env)
        monkeypatch.setenv("HOOK", f"http://127.0.0.1:{hook.port}/x")
        by_env.deliver("0123", [ENTRY])
        assert len(hook.came) == 2


def test_a_test_says_how_it_was_taken() -> None:
    with hooks() as hook:
        said = link(hook.port).test(0.0)
        assert said.startswith("The receiver took it after 0.")
        assert said.endswith("(HTTP 204 No Content).")
        assert hook.came[0]["kind"] == "test"
        assert "number" not in hook.came[0]
