"""From a discharge log to capacity, Peukert exponent and resistance: :func:`identify_block`."""

from ridesim.bench.discharge.identify import DischargeResult, identify_block
from ridesim.bench.discharge.log import DischargeLog, discharge_log, load_discharge
from ridesim.bench.discharge.measured import Discharge

__all__ = ["Discharge", "DischargeLog", "DischargeResult", "discharge_log", "identify_block", "load_discharge"]
