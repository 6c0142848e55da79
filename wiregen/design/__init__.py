"""A rig and what was worked out from it, stage by stage."""
