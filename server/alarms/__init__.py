"""Alarms of a rig: what raises one, how it lives and ends, and what is told of it. Pure."""
