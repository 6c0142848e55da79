"""Records that the stages pass on; they know nothing of the stages."""
