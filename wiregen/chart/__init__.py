"""The wiring chart: what it says, as a view of the harness, and its writers."""
