"""The service: bytes of a sensor board in, readings, events and recordings out. See DEVELOPERS.md for the floors."""
