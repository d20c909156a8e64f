"""What to watch, in words: one module a subject."""
