"""What can be: a machine's states in classes over time zones, with facts left open, cut down to a question."""
