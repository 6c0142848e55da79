"""Other ways to convert the same vehicle and trailers, as rigs of their own."""
