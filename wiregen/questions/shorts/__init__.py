"""Every short circuit, and what ends it."""
