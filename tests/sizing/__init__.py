"""Workshop sums."""
