"""Moves the vehicle through its day: simulate, steady-state answers, energy ledger."""
