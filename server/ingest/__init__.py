"""Bytes from boards: one port, one thread."""
