"""Pages: of a design, of an exploration, of results side by side, and the order sheet."""
