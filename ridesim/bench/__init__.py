"""From measurements to parameters. Empty so far."""
