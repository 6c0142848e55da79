"""The findings of the check, worst first."""
