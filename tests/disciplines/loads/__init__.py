"""Aerodynamics of the panel."""
