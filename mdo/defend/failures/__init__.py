"""Failure states."""
