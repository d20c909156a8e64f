"""Answers about the pack: capacity laws, one block, charging, unlike blocks."""
