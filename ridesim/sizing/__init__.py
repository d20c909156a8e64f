"""Closed-form workshop sums. Empty so far."""
