"""The fold in time: one wing under heat, load and control, stepped through time."""
