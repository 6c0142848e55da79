"""From a rig to circuits, the behaviour table and the chart."""
