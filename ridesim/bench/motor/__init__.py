"""From readings of a motor on the bench to its constants, with bands."""
