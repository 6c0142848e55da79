"""What a user may write in a rig file."""
