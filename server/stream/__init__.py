"""From messages to samples and edges, each in its place in board time: groups, gaps, windows, the clock. No I/O."""
