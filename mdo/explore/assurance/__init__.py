"""Sizing for what is not known: all requirements hold with a wanted probability."""
