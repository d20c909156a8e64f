"""The equations alone: compiled scalar functions in SI units, no files, no classes with behaviour."""
