"""Rig to circuits, one a trailer, and what every lamp does."""
