"""Heat: heater, losses, strokes in time, the bay."""
