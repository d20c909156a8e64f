"""The panel for where the weight goes."""
