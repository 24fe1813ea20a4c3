"""Runs: what is recorded of a rig, when it begins and ends, how it is played again. RUN.md says how it is stored."""
