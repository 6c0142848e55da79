"""What is printed on a relay or adapter box, judged."""
