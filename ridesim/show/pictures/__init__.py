"""The pictures of the panels: what stands still, what moves, what is said below. No widgets, no physics."""
