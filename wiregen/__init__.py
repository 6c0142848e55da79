"""Wiring charts, schematics and checks for towing 12 V trailers with a 24 V vehicle."""

__version__ = "0.1.0"
