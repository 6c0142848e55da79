"""Connector faces, from both sides."""
