"""What the workshop works from: cut list, splices, parts, labels, order of assembly."""
