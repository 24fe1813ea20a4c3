"""What happens when, as data that a person can read: one file per motor of the bench."""

from simulator.stories.story import Story, ramp
from simulator.stories.thruster import THRUSTER_STORIES
from simulator.stories.ventilator import VENTILATOR_STORIES

__all__ = ["THRUSTER_STORIES", "VENTILATOR_STORIES", "Story", "ramp"]
