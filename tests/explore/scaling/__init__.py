"""Families scaled by three laws."""
