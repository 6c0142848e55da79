"""Proposals: designs that follow from what the user has."""
