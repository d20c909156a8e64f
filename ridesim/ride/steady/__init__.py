"""Answers without a day: pull, top speed, climb, range, duty, cut-out."""
