"""Tables and texts for terminal, panels and sheet."""
