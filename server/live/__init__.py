"""What viewers see of a rig: one picture a tick, thinned once, packed once."""
