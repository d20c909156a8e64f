"""The panel for chain and mounting."""
