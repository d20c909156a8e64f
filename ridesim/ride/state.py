"""Places in the core's arrays, by name. All values SI; energies in joules, charge in ampere-seconds."""

from __future__ import annotations

(
    DISTANCE, SPEED, CHARGE_1, CHARGE_2, POLARISATION, WINDING, CASE, TIME,
    ENERGY, DRAWN, THROUGHPUT, CURRENT_SQUARED, CHARGE_OUT,
    LOSS_PACK, LOSS_POLARISATION, USE_STANDBY, USE_LIGHTS, LOSS_CONTROLLER, LOSS_COPPER, LOSS_BRUSHES, LOSS_FRICTION,
    LOSS_CHAIN, USE_ROLLING, USE_AIR, USE_BRAKE, USE_POTENTIAL, FROM_CHARGER, NOT_STORED, SWITCHED_OFF,
) = range(29)  # fmt: skip
"""The integrated state: motion, the law's two charges, polarisation, temperatures, time, then the energy ledger. SWITCHED_OFF is 1
from the moment the pack is empty until a charger is connected."""
STATE_SIZE = 29
FIRST_SUM, LAST_SUM = ENERGY, NOT_STORED
CONTROLLED = 7
"""Only the first seven steer the step size; the rest are sums over them."""

PULL, VOLTS, PACK_CURRENT, MOTOR_CURRENT, DUTY, CHARGE, LIMIT, POSSIBLE, MARGIN, ACCELERATION = range(10)
"""Outputs of the equations at one moment. CHARGE is z; POSSIBLE the largest acceleration; MARGIN the pull beyond
what breaking away needs [N]."""
OUTPUT_SIZE = 10

(
    LOWEST_VOLTS, HIGHEST_CURRENT, HOTTEST, SECONDS_BELOW, RESERVE_AT, RESERVE_X, CUT_OFF_AT, CUT_OFF_X, HOT_AT, HOT_S,
    EMPTY_AT, EMPTY_X, STALL_S, LONGEST_STALL_S, LONGEST_STALL_AT, CRAWL_S, MINUTE_CURRENT, STEPS, EVALUATIONS,
) = range(19)  # fmt: skip
"""What is noted on the way. Times of firsts are -1 until they happen."""
TALLY_SIZE = 19

NOW, NEXT, RATES, OUT, TALLY, BETWEEN, ASIDE = 0, 1, 2, 6, 7, 8, 9
"""Rows of the core's one working array: the state, the state at the end of the step being tried, four rows of rates, the
outputs, the tally, and room for a state between two others. One array, because compiled code counts the references of each array at every call."""
WORK_ROWS = 10
