"""Guided checks as pure state machines: cautions first, steps that see for themselves when they are done."""
