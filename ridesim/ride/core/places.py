"""Places in the state, and rows of the array that holds it: ``from ridesim.ride.core import places as at``.

The state is a row of plain numbers because the integrator loops over it; everything else of a ride is a record with names
(:mod:`ridesim.ride.core.records`). A further state needs a place here and its rate in :mod:`ridesim.ride.core.rates`: before
WINDING if its error is to steer the step, between ENERGY and NOT_STORED if it is a sum over the others.
"""

(
    # The motion [m, m/s], the string's charge (ridesim.ride.core.pack) [-], the polarisation [V], and the temperatures [°C].
    DISTANCE, SPEED, LEFT, MISSING, FILTERED, POLARISATION, WINDING, CASE,
    TIME,  # after midnight of the first day [s]
    # Sums: energy out of the terminals, out of the cells and through the cells [J], the motor current's square [A² s].
    ENERGY, DRAWN, THROUGHPUT, CURRENT_SQUARED,
    OUT, IN,  # charge out of and into the pack, as a meter counts it [A s]
    # The energy ledger [J].
    LOSS_PACK, LOSS_POLARISATION, USE_STANDBY, USE_LIGHTS, LOSS_CONTROLLER, LOSS_COPPER, LOSS_BRUSHES, LOSS_FRICTION,
    LOSS_CHAIN, USE_ROLLING, USE_AIR, USE_BRAKE, USE_POTENTIAL, FROM_CHARGER, NOT_STORED,
    SWITCHED_OFF,  # 1 from the moment the pack is empty until a charger is connected
) = range(31)  # fmt: skip

CONTROLLED = 8
"""The first eight are integrated with error control; the sums only follow them."""
FIRST_SUM, LAST_SUM = ENERGY, NOT_STORED
SIZE = 31

NOW, NEXT, RATES, BETWEEN, SPARE = 0, 1, 2, 6, 7
"""Rows: the state, the state at the end of the step being tried, four rows of rates, a state inside the step and its rates."""
ROWS = 8
