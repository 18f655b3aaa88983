"""What matter does: pure functions."""
