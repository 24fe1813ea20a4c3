"""Stories of the tender thruster: 36 V link, a drive that ramps its duty and holds the current of the driven pair.

Limits are those a drive of this size would be set to; with none a start at full duty takes 190 A.
"""

from simulator.stories.story import Story, ramp

_AT_REST = {
    "supply_on": 0,
    "duty": 0,
    "direction": 1,
    "load_torque_n_m": 0.1,
    "jammed": 0,
    "current_limit_a": 30,
}

THRUSTER_STORIES = (
    Story(
        "start and speed steps",
        "the duty is ramped to 30, 60 and 90 per cent, then power is taken off and the shaft coasts to rest",
        (
            (0.0, _AT_REST),
            (1.0, {"supply_on": 1}),
            *ramp("duty", 2.0, 0.6, 0.0, 0.3),
            *ramp("duty", 6.0, 0.6, 0.3, 0.6),
            *ramp("duty", 10.0, 0.6, 0.6, 0.9),
            (15.0, {"supply_on": 0}),
            (15.5, {"duty": 0}),
        ),
        24.0,
    ),
    Story(
        "reversal",
        "runs ahead at half duty, is ramped down and goes astern, and comes back ahead",
        (
            (0.0, _AT_REST),
            (1.0, {"supply_on": 1}),
            *ramp("duty", 1.5, 0.8, 0.0, 0.5),
            *ramp("duty", 6.0, 0.8, 0.5, 0.0),
            (7.5, {"direction": -1}),
            *ramp("duty", 7.6, 0.8, 0.0, 0.5),
            *ramp("duty", 12.5, 0.8, 0.5, 0.0),
            (14.0, {"direction": 1}),
            *ramp("duty", 14.1, 0.8, 0.0, 0.5),
            (18.5, {"supply_on": 0}),
            (19.0, {"duty": 0}),
        ),
        27.0,
    ),
    Story(
        "load and stall",
        "the load is raised in two steps, then weed holds the propeller for two seconds at the limit of the drive",
        (
            (0.0, _AT_REST),
            (1.0, {"supply_on": 1}),
            *ramp("duty", 1.5, 0.8, 0.0, 0.7),
            (5.5, {"load_torque_n_m": 0.6}),
            (8.5, {"load_torque_n_m": 1.2}),
            (11.5, {"load_torque_n_m": 0.1}),
            *ramp("duty", 13.5, 0.4, 0.7, 0.1),
            (15.0, {"jammed": 1}),
            (17.0, {"jammed": 0}),
            (20.0, {"supply_on": 0}),
            (20.5, {"duty": 0}),
        ),
        27.0,
    ),
)
