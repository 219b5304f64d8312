"""Numbers of the tool, kept: what a change moves, and by how much."""
