"""What a meter should read."""
