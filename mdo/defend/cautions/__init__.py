"""Cautions that a design deserves."""
