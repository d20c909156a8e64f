"""From a discharge log to capacity, Peukert exponent and resistance: :func:`identify_block`."""

from ridesim.bench.discharge.identify import DischargeResult, identify_block
from ridesim.bench.discharge.log import discharge_log, load_discharge
