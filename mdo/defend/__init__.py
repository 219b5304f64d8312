"""What a review asks about an optimum: costs, conflicts, comparison, choices, failures, doubt."""
