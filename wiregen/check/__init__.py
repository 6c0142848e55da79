"""From solved circuits to findings."""
