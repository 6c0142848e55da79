"""From files to records, with the place of every misfit."""
