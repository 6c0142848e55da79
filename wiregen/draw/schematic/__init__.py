"""The schematic: columns, rows, routes, symbols."""
