"""Tables of one design."""
