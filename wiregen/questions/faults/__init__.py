"""Finding a fault: the book of all faults, what is seen, suspects and the next check."""
