"""Keys that alarms can be set on: kinds of events and verdicts of a run, with words for a list. A test holds them
against the code that tells them."""

EVENT_KINDS = {
    "auxiliary": "the auxiliary winding left the circuit or came back",
    "board_reset": "the board started anew",
    "clipping": "a channel was clipped",
    "coasting": "the motor lost its current and coasted",
    "concluded": "something was concluded of the run",
    "gap": "samples are missing",
    "hall_states": "the order of Hall states became right or wrong",
    "load_step": "the load changed at once",
    "power_off": "power went off",
    "power_on": "power came on",
    "released": "the motor came free after a stall",
    "reversed": "the motor reversed",
    "running": "the motor came up to speed",
    "stalled": "the motor stalled",
    "stopped": "the motor stopped",
    "voltage_dip": "the voltage dipped",
    "voltage_swell": "the voltage rose",
}
VERDICT_KEYS = {
    "bridge_leg_dead": "a switch of the drive never closes",
    "current_channel_dead": "a current channel reads nothing",
    "phase_open": "a phase carries no current",
    "phase_resistance": "a phase has more resistance",
    "run_commutation_early": "Hall edges come early",
    "run_commutation_late": "Hall edges come late",
}
