import contextlib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.config import ConfigError
from server.notify.receivers import Mail, Mqtt, Secret, Webhook, secrets_of
from server.notify.settings import RECEIVERS_MAX, parse_receivers
from server.notify.trouble import masked

TEXT = """\
[webhook.workshop]
url = "https://hooks.example/T0pS3cret"
token_env = "HOOK_TOKEN"
sign_of_life_min = 60
everything = true

[mail.watch]
host = "mail.example.org"
user = "slipring"
password_file = "/run/secrets/mail"
from = "slipring@example.org"
to = "watch@example.org"

[mqtt.archive]
host = "broker.example.org"
security = "none"
topic = "works/slipring"
receipt_topic = "archive/receipts"
"""


def refusal(text: str) -> str:
    with pytest.raises(ConfigError) as found:
        parse_receivers(text, "notify.toml")
    return str(found.value)


def test_three_kinds_are_read_in_the_order_of_the_file() -> None:
    assert parse_receivers(TEXT, "") == (
        Webhook("workshop", False, "", 60.0, True,
                Secret("[webhook.workshop] url", "https://hooks.example/T0pS3cret"),
                Secret("[webhook.workshop] token_env", variable="HOOK_TOKEN")),
        Mail("watch", False, "", 0.0, False, "mail.example.org", 587, "starttls", "slipring",
             Secret("[mail.watch] password_file", file="/run/secrets/mail"), "slipring@example.org",
             "watch@example.org"),
        Mqtt("archive", False, "", 0.0, False, "broker.example.org", 1883, "none", "", None, "works/slipring",
             "archive/receipts"),
    )  # fmt: skip
    assert parse_receivers("", "") == ()


MAIL = '[mail.a]\nhost = "m.example"\nfrom = "a@example.org"\nto = "b@example.org"\n'


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("[pager.a]\n", 'line 1: this is no kind of receiver; there are [webhook.NAME], [mail.NAME]'),
        ("[webhok.a]\n", 'line 1: this is no kind of receiver; write [webhook.NAME].'),
        ("mail = 3\n", "line 1: mail is a value; write [mail] and its keys below it."),
        ("[mail]\na = 3\n", "line 2: this is a value; write [mail.NAME] and its keys below it."),
        ('[mail."a b"]\n', 'line 1: a receiver cannot be called so; use letters, digits, - and _, at most 40.'),
        (f"{MAIL}[mqtt.a]\n", 'line 5: there is a receiver "a" already; choose another name.'),
        ("[webhook.a]\n", 'line 1: url is missing; write url = "https://example.org/hook", or url_file, or url_env.'),
        ('[webhook.a]\nurl = "ftp://S3cret"\n', "line 2: url: this is no address of the web;"),
        ('[webhook.a]\nurl = "https://u:S3cret@h/"\n', "line 2: url: a name or password stands in it;"),
        ('[webhook.a]\nurl = "https://h:S3cret/"\n', "line 2: url: this is no address of the web;"),
        ('[webhook.a]\nurl = "https://h/S3cret x"\n', "line 2: url: it cannot be asked;"),
        ("[webhook.a]\nurl = 53\n", "line 2: url is not text; write url"),
        ('[webhook.a]\nurl = "https://h/"\nlocal = "yes"\n', 'line 3: local: this is not'),
        ('[webhook.a]\nurl = "https://h/"\nsign_of_life_min = 0\n', "line 3: sign_of_life_min: this is not"),
        ('[webhook.a]\nurl = "https://h/"\ntokn = "S3cret"\n', 'line 3: this is not a key of [webhook.a];'),
        (f'{MAIL}password = "S3cret"\n', "line 5: password stands without user; write user = ... or take"),
        (f'{MAIL}user = "u"\n', "line 5: user stands without password;"),
        (f'{MAIL}user = "u"\npassword = "S3cret"\npassword_env = "P"\n', "line 7: password and password_env"),
        (f'{MAIL}security = "none"\nuser = "u"\npassword = "S3cret"\n', 'line 5: security = "none": anybody'),
        (f'{MAIL}security = "ssl"\n', 'line 5: security: there is no such value; write "starttls" or "tls"'),
        (MAIL.replace("b@example.org", "b, c"), 'line 4: to: this is no mail address;'),
        (MAIL.replace('from = "a@example.org"\n', ""), "line 1: from is missing;"),
        (MAIL.replace("m.example", "m/example"), 'line 2: host: this is no name of a server;'),
        ('[mqtt.a]\nhost = "h"\ntopic = "a/#"\n', 'line 3: topic: nothing can be sent under this name;'),
        ('[mqtt.a]\nhost = "h"\nreceipt_topic = "slipring/notices"\n', "line 3: receipt_topic: this"),
        ('[mqtt.a]\nhost = "h"\nport = 70000\n', "line 3: port: this is not possible;"),
        ('[mqtt.a]\nhost = "h\n', "line 2: this is not TOML"),
        ('S3cret = "x"\n', "line 1: this is no kind of receiver;"),
        ('[webhook]\nS3cret = "x"\n', "line 2: this is a value; write [webhook.NAME]"),
        ("[webhook.'S3cret key']\n", "line 1: a receiver cannot be called so;"),
        ('[webhook.a]\nurl = "https://h/"\nS3cret = "tok"\n', "line 3: this is not a key of [webhook.a];"),
        (MAIL.replace("b@example.org", "<S3cret> c@d"), "line 4: to: this is no mail address;"),
        (MAIL.replace('"m.example"', '"S3cret?"'), "line 2: host: this is no name of a server;"),
        (f'{MAIL}security = "S3cret"\n', "line 5: security: there is no such value;"),
        (f"{MAIL}user = 1234567\n", 'line 5: user: this is not text; write it in quotes: "..."'),
        (f'{MAIL}port = "S3cret"\n', "line 5: port: this is not a whole number;"),
        (f'{MAIL}everything = "S3cret"\n', "line 5: everything: this is not true or false;"),
        ('[mqtt.a]\nhost = "h"\ntopic = "S3cret+"\n', "line 3: topic: nothing can be sent"),
        ('[mqtt.a]\nhost = "h"\nreceipt_topic = "slipring/S3cret"\n', "line 3: receipt_topic: this service"),
        ("[mqtt.S3cret]\n[mqtt.S3cret]\n", "line 2: a name stands here twice;"),
        ("[mqtt]\na = {S3cret = 1, S3cret = 2}\n", "line 2: a name stands here twice;"),
        ("".join(f'[mqtt.a{k}]\nhost = "h"\n' for k in range(RECEIVERS_MAX + 1)), "line 33: these are more than 16"),
        ("#" * 70_000, "70000 characters are too many"),
    ],
)  # fmt: skip
def test_what_cannot_be_used_is_refused_with_its_line_and_without_a_secret(text: str, said: str) -> None:
    found = refusal(text)
    assert found.startswith("notify.toml")
    assert said in found
    assert "S3cret" not in found
    assert "1234567" not in found


@given(st.text(max_size=60) | st.text(alphabet="[]mailwebhook.a=\"'{}\n#u0", max_size=60))
def test_no_text_does_more_than_to_be_refused(text: str) -> None:
    with contextlib.suppress(ConfigError):
        assert len(parse_receivers(text, "notify.toml")) <= RECEIVERS_MAX


def test_a_secret_is_shown_by_nothing() -> None:
    found = parse_receivers(TEXT, "")
    assert "T0pS3cret" not in repr(found)
    words = "to https://hooks.example/T0pS3cret, /T0pS3cret, https%3A%2F%2Fhooks.example%2FT0pS3cret"
    assert "T0pS3cret" not in masked(words, secrets_of(found[0]))
