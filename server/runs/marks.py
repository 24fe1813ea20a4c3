"""The sentences of marks in a run, and so what they say of samples that are missing. Pure."""

STOPPED = "The service was stopped"
STARTED = "The service was started again"
CABLE_OUT = "The connection to the board was lost"
CABLE_BACK = "The connection to the board came back"
NOT_KEPT_UP = "This PC was too slow for what the board sent"
NOT_TAKEN = "The disk took nothing"
THINNED = "Raw samples were thinned by the plan"
