"""Alarms that need no setting, or only their name. Few, as EEMUA 191 asks (from memory): each has an act. Records only.

`[alarms.NAME]` in the settings of a rig changes one, turns it on, or with rank = "off" turns it off.
"""

from dataclasses import dataclass

from server.config import AlarmSettings


@dataclass(frozen=True, slots=True)
class Ready:
    """`usual`: its settings where a person says nothing; `on`: watched without being named. `says`: what it is, in the
    list of the page; `why`: what stands behind the act. `cause`: where the settings alone do not tell it."""

    usual: AlarmSettings
    says: str
    why: str
    on: bool = True
    cause: str = ""


OVERLOADED = "overloaded"
# Of a test plan, of which each tells; having one asks for it.
PASSED = "test_passed"
OUTCOMES = {"test_failed": "fail", PASSED: "pass", "test_undecided": "unknown"}
# An overload mostly follows from another alarm, as a stall, which says more; what became of a test can wait.
BEHIND = (OVERLOADED, *OUTCOMES)
_OFF = "Switch off"
_HEAT = "a stalled winding overheats in seconds"
_PHASE = "with a phase missing the others carry too much"

_ALL = (
    Ready(AlarmSettings("stalled", "alarm", _OFF, state="stalled", hold_s=0.5), "The motor has stalled", _HEAT),
    Ready(
        AlarmSettings("board_gone", "alarm", "Go and look at the motor", state="running", no_samples_s=10.0),
        "No samples while the motor ran",
        "it was on, and nobody sees it now",
    ),
    Ready(AlarmSettings("phase_open", "alarm", _OFF, verdict="phase_open"), "A phase carries no current", _PHASE),
    Ready(AlarmSettings("bridge_leg_dead", "alarm", _OFF, verdict="bridge_leg_dead"), "A switch never closes", _PHASE),
    Ready(
        AlarmSettings("recording_failed", "caution", "Look at the disk of the PC", hold_s=5.0),
        "Samples are not recorded",
        "what cannot be written in time is lost",
        cause="recording",
    ),
    Ready(
        AlarmSettings("disk_nearly_full", "caution", "Make room on the disk of the PC", hold_s=30.0),
        "The disk is nearly full",
        "then samples wait in memory for a while, and readings go on",
        cause="room",
    ),
    Ready(
        AlarmSettings("test_failed", "alarm", "Look at the motor, then at its test"),
        "The test has failed",
        "that stays so, however long it goes on",
        on=False,
        cause="plan",
    ),
    Ready(
        AlarmSettings(PASSED, "caution", "Look at the result of the test"),
        "The test has reached its goal",
        "nothing more is asked of this motor",
        on=False,
        cause="plan",
    ),
    Ready(
        AlarmSettings("test_undecided", "caution", "Look at what is not known of the test"),
        "The test has reached its goal and is undecided",
        "what is not known may hide a failure",
        on=False,
        cause="plan",
    ),
    Ready(
        AlarmSettings(
            *("winding_temperature", "alarm", "Switch off and let it cool", "winding_temperature_c"),
            high=120.0,
            return_gap=5.0,
            hold_s=1.0,
        ),
        "The winding is warmer than its insulation withstands",
        # 40 degrees around it and 80 K by resistance, class B: IEC 60034-1 (from memory). Of another class: set `high`.
        "insulation of class B ages twice as fast for every 10 K above 120 \u00b0C",
        on=False,
    ),
    Ready(
        AlarmSettings(OVERLOADED, "alarm", "Take load off, or switch off", trip_class="10"),
        "Its current heats it too much",
        "a protective device must trip, Slipring only estimates and never stops a motor",
        on=False,
        cause="overload",
    ),
    Ready(
        AlarmSettings("brush_wear", "caution", "Look at the brushes when it stands", least_percent=1.0),
        "Brushes wear: speed and current fall together",
        "at the same voltage speed and current fell together: contact resistance grew; a loose terminal looks the same",
        on=False,
        cause="drift",
    ),
    Ready(
        AlarmSettings("capacitor_ageing", "caution", "Measure the run capacitor, discharged first", least_percent=3.0),
        "The run capacitor loses capacitance",
        "current / (2 \u03c0 f voltage) of the capacitor fell",
        on=False,
        cause="drift",
    ),
    Ready(
        AlarmSettings("bearing_friction", "caution", "Turn the shaft by hand, power off", least_percent=10.0),
        "It coasts shorter than before",
        "it coasts shorter and dry friction grew: bearing, seal, or something rubs",
        on=False,
        cause="drift",
    ),
    Ready(
        AlarmSettings(
            *("warming", "caution", "Look at its fan and air openings"),
            drift="temperature_c.housing",
            least_percent=10.0,
        ),
        "It gets warmer by the same load",
        "it lies further above the air for the heat that is made: dust, a fan that is loose, or more loss inside",
        on=False,
    ),
)
READY = {ready.usual.name: ready for ready in _ALL}
