"""What the design rests on, and what to measure first."""
