"""Compare builds and say what to watch."""

from ridesim.choose.compare import Candidate, Comparison, compare

__all__ = ["Candidate", "Comparison", "compare"]
