"""Laws of the tubes."""
