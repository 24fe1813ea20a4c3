"""The service: bytes of a sensor board in, readings, events and recordings out. See DEVELOPERS.md for the floors."""

VERSION = "0.1.0"  # the same as in pyproject.toml; written here so that nothing needs to be looked up to say it
