"""Operating points as a simulator reads them."""
