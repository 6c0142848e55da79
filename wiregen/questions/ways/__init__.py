"""Which way to convert: every way as a rig, studied and compared."""
