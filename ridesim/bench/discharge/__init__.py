"""From a discharge log to capacity, Peukert exponent and resistance."""
