"""The log of a run: its readings, what happened, and summaries of them, in one SQLite file beside the segments.

It can be made again from the segments, so it never holds up the recorder (RUN.md, "The log").
"""
