"""Closed segments packed and unpacked, byte for byte: pure functions, no files. RUN.md has the layout."""
