"""The notebook that chooses the pack and plans its charging."""
