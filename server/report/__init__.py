"""A recorded run as a report: gathered from a replay, put into words once, laid out as HTML and as PDF."""
