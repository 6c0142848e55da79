"""The known connector wirings."""
