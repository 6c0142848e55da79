"""From circuits and charts to drawings."""
