"""What a file of stories or of a bench motor is refused with. Apart, so that who needs no stories needs no parser."""


class StoryError(ValueError):
    """A file that cannot be used: file, line, and what to write."""
