"""Papers in print: blocks laid out by typst from JSON, never from markup that holds data."""
