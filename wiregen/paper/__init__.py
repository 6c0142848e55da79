"""Papers: safe text, files and folders, writers. Knows nothing of rigs."""
