"""The notebook that chooses voltage, sprockets and controller."""
