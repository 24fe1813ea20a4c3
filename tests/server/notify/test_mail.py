import socket
from collections.abc import Sequence
from pathlib import Path

import pytest

from server.alarms import notice as alarms
from server.alarms.notice import Notice, Told
from server.notify import trouble
from server.notify.draft import Rank, Word, of_notice
from server.notify.mail import MailLink
from server.notify.outbox import Outbox, Waiting
from server.notify.receivers import Mail, Secret
from server.notify.trouble import SendError
from tests.server.notify.broker import SlowWay
from tests.server.notify.hooks import certificate
from tests.server.notify.mailbox import Mailbox, mail_server
from tests.server.notify.notices import notice

PASSWORD = "S3cret-of-the-mailbox"


def link(port: int, security: str = "none", password: str = "", ca_file: str = "", local: bool = True) -> MailLink:
    secret = Secret("[mail.watch] password", password) if password else None
    to = "watch@example.org"
    return MailLink(
        Mail(
            "watch", local, ca_file, 0.0, False, "127.0.0.1", port, security, "slip", secret, "slipring@example.org", to
        )
    )


def entries(*notices: Notice) -> Sequence[Waiting]:
    box = Outbox(None)
    box.keep_for({"watch": False})
    box.add([Word(of_notice(each)) for each in notices], 1_795_600_000.0)
    return box.waiting("watch", 100)


def refusal(its: MailLink) -> SendError:
    with pytest.raises(SendError) as found:
        its.deliver("0123", entries(notice()))
    assert PASSWORD not in str(found.value)
    return found.value


def test_a_mail_says_what_to_do_first() -> None:
    mailbox = Mailbox()
    with mail_server(mailbox) as port:
        assert link(port).deliver("0123", entries(notice(motor="bilge pump", run="20261125-1402-bench"))) == 1
    (mail,) = mailbox.mails
    assert mail["Subject"] == "Alarm on bench: Switch off. The current is above its limit for 5 s"
    assert mail["To"] == "watch@example.org"
    assert mail["Message-ID"] == "<0123-1@example.org>"
    assert mail["Auto-Submitted"] == "auto-generated"
    assert mail.get_content().splitlines()[:10] == [
        "Alarm on bench: Switch off. The current is above its limit for 5 s",
        "At: 2026-11-25 09:46:40 UTC",
        "Do first: Switch off",
        "Why: The current is above its limit for 5 s.",
        "Reading: current_rms_a",
        "Value: 1.31 A",
        "Limit: 0.60 A",
        "Rig: bench",
        "Motor: bilge pump",
        "Run: 20261125-1402-bench",
    ]


def test_what_has_waited_goes_together_and_the_worst_stands_first() -> None:
    mailbox = Mailbox()
    waiting = entries(
        notice("fan", rank=alarms.Rank.CAUTION, act="Look at the fan"),
        *(notice("over"), notice("over", kind=Told.ENDED, act="Look why it came"), notice()),
    )
    with mail_server(mailbox) as port:
        assert link(port).deliver("0123", waiting) == 4
        link(port).deliver("0123", waiting[:3])
    subjects = [mail["Subject"].replace("\n", "").strip() for mail in mailbox.mails]
    assert subjects == [
        "Alarm on bench: Switch off. The current is above its limit for 5 s and 3 more",
        "Alarm on bench ended: Look why it came. The current is above its limit for 5 s and 2 more",
    ], "what became of an alarm stands for it"
    assert mailbox.mails[0].get_content().count("Do first:") == 4
    assert Rank.ALARM > Rank.CAUTION


@pytest.mark.parametrize("starttls", [True, False])
def test_a_password_goes_over_an_encrypted_connection_to_a_server_that_is_known(tmp_path: Path, starttls: bool) -> None:
    file, context = certificate(tmp_path)
    mailbox, security = Mailbox(password=PASSWORD), "starttls" if starttls else "tls"
    with mail_server(mailbox, context, starttls) as port:
        link(port, security, PASSWORD, str(file)).deliver("0123", entries(notice()))
        assert mailbox.encrypted == [True]
        assert "has no certificate that this PC trusts" in str(refusal(link(port, security, PASSWORD)))
        wrong = refusal(link(port, security, "wr0ng-password", str(file)))
        assert str(wrong) == "127.0.0.1 refuses user and password (535); are they right in notify.toml?"
        assert wrong.lasting


def test_a_server_without_encryption_gets_no_password() -> None:
    mailbox = Mailbox()
    with mail_server(mailbox) as port:
        said = str(refusal(link(port, "starttls", PASSWORD)))
        assert said.startswith("127.0.0.1 cannot do what is asked of it (STARTTLS extension not supported by server.)")
    assert mailbox.mails == []


@pytest.mark.parametrize(("answer", "lasting"), [("550 no such user", True), ("450 busy, later", False)])
def test_a_recipient_that_is_refused_is_told(answer: str, lasting: bool) -> None:
    with mail_server(Mailbox(refuses=answer)) as port:
        found = refusal(link(port))
    assert str(found) == f"127.0.0.1 does not take mail for watch@example.org ({answer}); is the address right?"
    assert found.lasting is lasting


def test_a_server_that_says_nothing_is_left_after_a_while(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(trouble, "WHOLE_S", 0.6)
    with socket.create_server(("127.0.0.1", 0)) as silent:
        port = silent.getsockname()[1]
        assert str(refusal(link(port))) == (
            f"127.0.0.1, port {port}, is connected but gave no answer within 1 s; it is too slow or hangs, look at the "
            "program there."
        )


def test_a_server_that_takes_longer_to_answer_than_to_be_connected_has_the_whole_time_of_an_attempt(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(trouble, "CONNECT_S", 0.05)
    mailbox = Mailbox()
    with mail_server(mailbox) as port:
        way = SlowWay(port, 0.15)
        assert link(way.port).deliver("0123", entries(notice())) == 1
        way.close()
    assert len(mailbox.mails) == 1


def test_this_pc_is_not_asked_unless_the_settings_say_so() -> None:
    mailbox = Mailbox()
    with mail_server(mailbox) as port:
        assert "write local = true" in str(refusal(link(port, local=False)))
    assert mailbox.mails == []


def test_text_from_a_board_cannot_add_lines_to_the_head_of_a_mail() -> None:
    mailbox = Mailbox()
    with mail_server(mailbox) as port:
        link(port).deliver("0123", entries(notice(act="Off\r\nBcc: all@example.org", rig="b\u202ex")))
    (mail,) = mailbox.mails
    assert mail["Bcc"] is None
    assert (
        mail["Subject"].replace("\n", "")
        == "Alarm on b\\u202ex: Off\\u000d Bcc: all@example.org. The current is above its limit for 5 s"
    )


def test_a_test_says_that_the_server_took_it_and_no_more() -> None:
    mailbox = Mailbox()
    with mail_server(mailbox) as port:
        said = link(port).test(1_795_600_000.0)
    assert said.startswith("The mail server took it after 0.")
    assert said.endswith("; whether it arrives is seen in the mailbox of watch@example.org.")
    assert mailbox.mails[0]["Subject"] == "This is a test of Slipring's messages; nothing has happened"
