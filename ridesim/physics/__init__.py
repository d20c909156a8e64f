"""The equations alone: compiled scalar functions in SI units. ``MODEL.md`` in this folder lists and numbers them all."""
