"""What a board's channels were found to be off by, against what, and how sure: kept, applied, found. No motor."""
