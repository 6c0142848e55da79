"""What the trade knows: circuits, connectors, conductors, fuses, lamps, relays, with sources."""
