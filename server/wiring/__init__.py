"""From Hall states and phase voltages to which wire is wrong and what to move. Pure."""
