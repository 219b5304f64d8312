"""What stands against each other in an infeasible study."""
