"""Pictures, tables, notebook panels."""
