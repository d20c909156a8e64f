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

PULL, VOLTS, PACK_CURRENT, MOTOR_CURRENT, DUTY, CHARGE, LIMIT, POSSIBLE, MARGIN, ACCELERATION, SWITCH = range(11)
"""Outputs of the equations at one moment. CHARGE is z; POSSIBLE the largest acceleration; MARGIN the pull beyond
what breaking away needs [N]; SWITCH how far beyond its cut-out, or once cut out its return, the controller is [V or s]."""
OUTPUT_SIZE = 11

(
    LOWEST_VOLTS, HIGHEST_CURRENT, HOTTEST, SECONDS_BELOW, RESERVE_AT, RESERVE_X, CUT_OFF_AT, CUT_OFF_X, HOT_AT, HOT_S,
    EMPTY_AT, EMPTY_X, STALL_S, WORST_STALL_S, WORST_STALL_AT, CRAWL_S, MINUTE_CURRENT, STEPS, EVALUATIONS,
    THROTTLE_AT, CUT, READY_AT, CUT_OUTS, CUTS_IN_A_ROW, CUT_S, CUT_LEG, LEG, STARTS,
    STALL_A, WORST_STALL_A, STALL_HEAT, WORST_STALL_HEAT,
) = range(32)  # fmt: skip
"""What is noted on the way. Times of firsts are -1 until they happen. The controller's own memory lies here too: THROTTLE_AT is
when the throttle opened (-1: closed), CUT is 1 while it has cut out, READY_AT the earliest return; CUT_LEG the leg of the first
cut-out, LEG the present one (-1: no route), STARTS how often the throttle opened from a stand. STALL_S, STALL_A and
STALL_HEAT are the present stall's time, largest current and integral of the squared current [A² s], which makes the worst one."""
TALLY_SIZE = 32

NOW, NEXT, RATES, OUT, TALLY, BETWEEN, ASIDE = 0, 1, 2, 6, 7, 8, 9
"""Rows of the core's one working array: the state, the state at the end of the step being tried, four rows of rates, the
outputs, the tally, and room for a state between two others. One array, because compiled code counts the references of each array at every call."""
WORK_ROWS = 10
WORK_COLUMNS = max(STATE_SIZE, OUTPUT_SIZE, TALLY_SIZE)
