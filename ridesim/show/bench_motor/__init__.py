"""The notebook for the motor on the bench."""
