"""What each requirement costs."""
