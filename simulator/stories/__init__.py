"""What happens when, as data that a person can read and write (STORIES.md)."""

from simulator.stories.document import Entry, read_document, required
from simulator.stories.motor_faults import MOTOR_FAULTS
from simulator.stories.reading import read_stories, value_of
from simulator.stories.story import Step, Story

__all__ = ["MOTOR_FAULTS", "Entry", "Step", "Story", "read_document", "read_stories", "required", "value_of"]
