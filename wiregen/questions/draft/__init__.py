"""A new rig file from answers."""
