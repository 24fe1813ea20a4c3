"""A receiver that is written to by mail: a mail server is asked to carry it (RFC 5321; TLS by RFC 3207 or RFC 8314).

What waits goes together in one mail, so that after a night without network one comes and not hundreds.
"""

import contextlib
import smtplib
import time
from collections.abc import Sequence
from email.message import EmailMessage
from email.utils import formatdate

from server.notify.draft import moment
from server.notify.link import ALIVE_TITLE, TEST_TITLE
from server.notify.outbox import Waiting
from server.notify.receivers import Mail
from server.notify.trouble import RefusedError, SendError, connect, read_secret, refusal, said, trust
from server.settings.plain import escaped

_AT_ONCE = 50  # messages in one mail
_OWN_NAME = "[127.0.0.1]"  # the name of this PC is no business of the mail server, and asking for it may hang
_READY = 220  # what a mail server greets with (RFC 5321, 4.2.2)
_QUIT_S = 1.0  # for its last word
_SUBJECT_MAX = 150  # characters
_RANKS = ("information", "caution", "alarm")
_LINES = {"act": "Do first", "why": "Why", "reading": "Reading", "value": "Value", "limit": "Limit", "rig": "Rig"}
_LINES |= {"motor": "Motor", "run": "Run"}
_END = "Slipring watches, it does not protect."


class MailLink:
    """One connection a mail."""

    at_once = _AT_ONCE

    def __init__(self, receiver: Mail) -> None:
        self._receiver = receiver

    def deliver(self, origin: str, entries: Sequence[Waiting]) -> int:
        newest = {entry.record.get("alarm", entry.number): entry for entry in entries}  # speaks for what came before it
        worst = max(newest.values(), key=_weight)
        more = f" and {len(entries) - 1} more" if len(entries) > 1 else ""
        text = "\n\n".join(map(_paragraph, entries))
        number = entries[-1].number
        self._send(f"{worst.record['title']}{more}", text, entries[0].made_utc_s, f"{origin}-{number}")
        return number

    def sign_of_life(self, utc_s: float) -> None:
        self._send(ALIVE_TITLE, f"At {moment(utc_s)} Slipring is running.", utc_s)

    def test(self, utc_s: float) -> str:
        start_s = time.monotonic()
        self._send(TEST_TITLE, "Whoever reads this is reached by mail.", utc_s)
        took = f"The mail server took it after {time.monotonic() - start_s:.3f} s"
        return f"{took}; whether it arrives is seen in the mailbox of {self._receiver.to}."

    def tend(self) -> bool:
        """Nothing is kept open."""
        return False

    def close(self) -> None:
        """Nothing is kept open."""

    def _send(self, subject: str, text: str, utc_s: float, key: str = "") -> None:
        its = self._receiver
        mail = EmailMessage()
        subject = escaped(subject.replace("\n", " "))
        mail["Subject"] = subject if len(subject) <= _SUBJECT_MAX else subject[: _SUBJECT_MAX - 3] + "..."
        mail["From"], mail["To"] = its.sender, its.to
        mail["Date"] = formatdate(utc_s)
        mail["Auto-Submitted"] = "auto-generated"  # RFC 3834: nobody's holiday message answers it
        if key:
            mail["Message-ID"] = f"<{key}@{its.sender.rpartition('@')[2]}>"  # the same each time it is sent
        mail.set_content(f"{text}\n\n-- \n{_END}\n")
        try:
            self._carried(mail)
        except smtplib.SMTPAuthenticationError as error:
            what = f"{its.host} refuses user and password ({error.smtp_code})"  # its words may repeat them
            raise SendError(f"{what}; are they right in notify.toml?", lasting=True) from None
        except smtplib.SMTPDataError as error:
            what = f"{its.host} did not take the mail ({_answer(error)}); it is sent again."
            raise (RefusedError if error.smtp_code >= 500 else SendError)(what) from None  # RFC 5321, 4.2.1
        except smtplib.SMTPResponseException as error:
            raise SendError(f"{its.host} did not take the mail ({_answer(error)}); it is sent again.") from None
        except smtplib.SMTPRecipientsRefused as error:
            code, answer = error.recipients[its.to]
            what = f"{its.host} does not take mail for {its.to} ({code} {said(answer)})"
            raise SendError(f"{what}; is the address right?", lasting=code >= 500) from None
        except smtplib.SMTPNotSupportedError as error:
            what = f"{its.host} cannot do what is asked of it ({said(error)})"
            raise SendError(f"{what}; look at security and user in notify.toml.") from None
        except smtplib.SMTPException:
            raise SendError(f"{its.host}, port {its.port}, broke the connection off; it is sent again.") from None
        except (OSError, ValueError) as error:
            raise SendError(refusal(its.host, its.port, error)) from None

    def _carried(self, mail: EmailMessage) -> None:
        its = self._receiver
        reached = connect(its.host, its.port, its.local)
        connection = smtplib.SMTP(local_hostname=_OWN_NAME)
        connection.sock = reached.socket
        connection._host = its.host  # type: ignore[attr-defined]  # its constructor sets it only where that connects
        try:
            with reached.deadline():
                if its.security == "tls":
                    connection.sock = trust(its.ca_file).wrap_socket(reached.socket, server_hostname=its.host)
                code, words = connection.getreply()
                if code != _READY:
                    raise smtplib.SMTPConnectError(code, words)
                if its.security == "starttls":
                    connection.starttls(context=trust(its.ca_file))
                if its.password is not None:
                    connection.login(its.user, read_secret(its.password))
                connection.send_message(mail)
            connection.sock.settimeout(_QUIT_S)
            with contextlib.suppress(smtplib.SMTPException, OSError):  # it is sent already
                connection.quit()
        finally:
            connection.close()
            reached.socket.close()


def _paragraph(entry: Waiting) -> str:
    record = entry.record
    lines = [escaped(str(record["title"])), f"At: {moment(float(record['at_utc_s']))}"]
    lines += [f"{name}: {escaped(str(record[key]))}" for key, name in _LINES.items() if record.get(key)]
    return "\n".join(lines)


def _weight(entry: Waiting) -> tuple[int, bool]:
    """By rank; of one rank what has ended stands behind."""
    return _RANKS.index(str(entry.record["rank"])), entry.record["kind"] != "ended"


def _answer(error: smtplib.SMTPResponseException) -> str:
    return f"{error.smtp_code} {said(error.smtp_error)}"
