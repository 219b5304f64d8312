"""The fold in time: commands, courses under control, faults, scatter of units."""
