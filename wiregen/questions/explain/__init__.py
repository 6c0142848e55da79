"""A rule of the check, explained."""
