"""Compare builds and say what to watch."""

from ridesim.choose.candidate import Candidate
from ridesim.choose.compare import Comparison, compare
