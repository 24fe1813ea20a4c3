"""Stories of the cabin ventilator: mains 230 V 50 Hz, a fan on the shaft, a run capacitor."""

from simulator.stories.story import Story

_AT_REST = {"supply_on": 0, "load_factor": 1, "jammed": 0, "capacitor_connected": 1, "switching_angle_deg": 0}

VENTILATOR_STORIES = (
    Story(
        "start and load",
        "starts, its filter clogs to 1.4 times the load and is cleaned, is switched off, coasts and is stopped by hand",
        (
            (0.0, _AT_REST),
            (1.5, {"supply_on": 1}),
            (9.0, {"load_factor": 1.4}),
            (15.0, {"load_factor": 1.0}),
            (20.0, {"supply_on": 0}),
            (25.0, {"jammed": 1}),
        ),
        38.0,
    ),
    Story(
        "stall and release",
        "the fan is held for five seconds, comes up again when freed, is held once more and switched off",
        (
            (0.0, _AT_REST),
            (1.5, {"supply_on": 1, "switching_angle_deg": 90}),
            (7.0, {"jammed": 1}),
            (12.0, {"jammed": 0}),
            (19.0, {"jammed": 1}),
            (21.5, {"supply_on": 0}),
            (23.0, {"jammed": 0}),
        ),
        36.0,
    ),
    Story(
        "capacitor lost and restored",
        "the run capacitor comes off while it runs: more current, less speed, a poorer power factor; then it is back",
        (
            (0.0, _AT_REST),
            (1.5, {"supply_on": 1}),
            (8.0, {"capacitor_connected": 0}),
            (15.0, {"capacitor_connected": 1}),
            (21.0, {"supply_on": 0}),
            (26.0, {"jammed": 1}),
        ),
        38.0,
    ),
    Story(
        "start without capacitor",
        "without its capacitor it hums and does not turn; with the capacitor back it starts",
        (
            (0.0, _AT_REST),
            (1.0, {"capacitor_connected": 0}),
            (2.0, {"supply_on": 1, "switching_angle_deg": 45}),
            (8.0, {"supply_on": 0}),
            (9.5, {"capacitor_connected": 1}),
            (10.5, {"supply_on": 1}),
            (18.0, {"supply_on": 0}),
            (23.0, {"jammed": 1}),
        ),
        36.0,
    ),
)
