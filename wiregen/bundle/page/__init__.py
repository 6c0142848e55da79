"""The page on which the controls can be worked: one file, offline, with its own script and style."""
