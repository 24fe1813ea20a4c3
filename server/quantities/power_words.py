"""How budgets name the parts that powers have in common."""

NOISE, GAINS, OFFSETS, SKEW, STEPS, SQUARES = (
    *("noise", "gains", "offsets", "delay between the channels", "steps"),
    "squares of the parts",
)
