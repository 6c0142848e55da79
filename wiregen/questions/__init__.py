"""What people ask of a design: one folder a question, none imports another."""
