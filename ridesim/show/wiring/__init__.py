"""The panel for cable, protection and switches."""
