"""Alarm settings that cannot be meant so are refused at their line, with what to write instead."""

import pytest

from server.alarms.contradictions import check_alarms
from server.config import ConfigError
from server.settings.text import parse_rig

OK = """
[alarms.stalled]
rank = "caution"
[alarms.brush_wear]
[alarms.overloaded]
trip_class = "10A"
[alarms."too much"]
reading = "current_rms_a.auxiliary"
low = 0.1
high = 3.0
return_gap = 0.2
act = "Switch off"
[alarms."shelf is slow"]
drift = "speed_rpm"
act = "Look at the belt"
[calling]
alarm = "phone, office"
quiet_from = "22:00"
quiet_to = "06:00"
"""


def test_what_can_be_meant_is_taken() -> None:
    check_alarms(parse_rig(OK, "rig.toml", "bench"))


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        (
            '[alarms.x]\nreading = "current_rms_a"\nlow = 3\nhigh = 1\nact = "Look"',
            "line 3: low = 3 is not below high = 1; write the smaller one as low.",
        ),
        (
            '[alarms.x]\nreading = "current_rms_a"\nlow = 1\nhigh = 3\nreturn_gap = 2.5\nact = "Look"',
            "line 5: return_gap = 2.5 is as wide as the band from low to high, 2: it would never end; write less than",
        ),
        (
            '[alarms.x]\nreading = "curent_rms_a"\nhigh = 3\nact = "Look"',
            'line 2: there is no reading "curent_rms_a"; write current_rms_a.',
        ),
        (
            '[alarms.x]\nreading = "run_state"\nhigh = 3\nact = "Look"',
            "line 2: run_state is a word; name a reading that is a number, such as current_rms_a.",
        ),
        (
            '[alarms.x]\nreading = "current_rms_a"\nact = "Look"',
            "line 1: alarms.x has no limit; write low, high or both",
        ),
        (
            '[alarms.x]\nreading = "current_rms_a"\nhigh = 3',
            'line 1: alarms.x does not say what to do first; write act = "Switch off"',
        ),
        ('[alarms.x]\nevent = "stall"\nact = "Look"', 'line 2: there is no event "stall"; write stalled.'),
        (
            '[alarms.x]\nverdict = "phase_opn"\nact = "Look"',
            'line 2: there is no verdict "phase_opn"; write phase_open.',
        ),
        (
            '[alarms.x]\nevent = "gap"\ndrift = "speed_rpm"\nact = "Look"',
            "line 3: alarms.x has event and drift; make an alarm of each.",
        ),
        (
            '[alarms.stalld]\nact = "Look"',
            "line 1: nothing is said that raises the alarm stalld; write [alarms.stalled]",
        ),
        (
            '[alarms.x]\nevent = "gap"\nhigh = 3\nact = "Look"',
            "line 3: high is set without a reading; write whose limit",
        ),
        (
            '[alarms.stalled]\nevent = "gap"',
            "line 2: stalled is a ready alarm and has its own cause; give yours another name.",
        ),
        (
            '[calling]\nquiet_from = "22:00"',
            "line 2: quiet_from is set and quiet_to is not; write quiet_to too, or neither.",
        ),
        (
            '[calling]\nquiet_from = "22:00"\nquiet_to = "22:00"',
            "line 3: the quiet hours end when they begin; write two different times.",
        ),
        ('[calling]\nquiet_from = "25:00"', 'line 2: quiet_from = "25:00": it cannot be read; write it as "22:00".'),
        (
            '[alarms.x]\nrank = "high"',
            'line 2: rank = "high": there is no such value; write "alarm" or "caution" or "off".',
        ),
        ('[alarms.x]\nhigh = "3"', 'line 2: high = "3": this is not a number; write a number without quotes or unit'),
        (
            '[alarms.overloaded]\ntrip_class = "15"',
            'line 2: trip_class = "15": there is no such value; write "5" or "10A" or "10" or "20" or "30".',
        ),
        (
            "[alarms.overloaded]\ntrip_class = 10",
            'line 2: trip_class = 10: this is not text; write it in quotes: "10".',
        ),
        (
            '[alarms.x]\nevent = "gap"\nact = "Look"\ntrip_class = "10"',
            "line 4: alarms.x has a trip_class, which only the ready alarm overloaded asks for; "
            "move it below [alarms.overloaded].",
        ),
        ("[alarms.x]\nholds_s = 3", 'line 2: "holds_s" is not a key of [alarms.x]; write hold_s.'),
    ],
)
def test_what_cannot_be_meant_is_refused_at_its_line(text: str, sentence: str) -> None:
    with pytest.raises(ConfigError) as refused:
        check_alarms(parse_rig(text, "rig.toml", "bench"))
    assert str(refused.value).startswith(f"rig.toml, {sentence}")


def test_more_alarms_than_anybody_can_act_on_are_refused() -> None:
    text = "".join(f'[alarms.x{k}]\nevent = "gap"\nact = "Look"\n' for k in range(51))
    with pytest.raises(ConfigError, match="51 alarms are more than 50"):
        check_alarms(parse_rig(text, "rig.toml", "bench"))
