"""Physics, a discipline at a time."""
