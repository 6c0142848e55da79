"""From circuits to voltages and currents."""
