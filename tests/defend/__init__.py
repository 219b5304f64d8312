"""Defence of a design."""
