"""The report in a real browser."""
