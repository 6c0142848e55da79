"""What is built, wire by wire."""
