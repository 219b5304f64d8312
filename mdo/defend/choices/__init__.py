"""The study of discrete choices."""
