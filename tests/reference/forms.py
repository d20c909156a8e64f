"""The equations in the two forms the solver can call: ordinary Python and compiled, for the reference solution.

Both run the same functions of ``equations``; only the wrapping differs.
"""

import numpy
from numba import njit

from .equations import PHYSICAL_COUNT, STATE_COUNT, margins, rates


def one_record(named):
    """The same numbers as an array of one record: compiled code takes it quicker than a long tuple."""
    return numpy.array([tuple(named)], dtype=[(name, "f8") for name in named._fields])


@njit
def compiled_rates(t, y, par, phase, table_z, table_e):
    """Rates of all states as an array, compiled; ``par`` and ``phase`` from ``one_record``."""
    values = rates(t, y[0], y[2], y[3], y[4], y[5], y[6], y[7], par[0], phase[0], table_z, table_e)
    out = numpy.empty(STATE_COUNT)
    for i in range(STATE_COUNT):
        out[i] = values[i]
    return out


@njit
def compiled_margins(t, y, par, phase, table_z, table_e):
    """Possible acceleration and breakaway margin, compiled."""
    return margins(t, y[0], y[3], y[5], y[6], y[7], par[0], phase[0], table_z, table_e)


@njit
def compiled_electrical(t, y, par, phase, table_z, table_e):
    """Pack current (A), pack voltage (V) and motor current (A), compiled."""
    values = rates(t, y[0], y[2], y[3], y[4], y[5], y[6], y[7], par[0], phase[0], table_z, table_e)
    return values[STATE_COUNT], values[STATE_COUNT + 1], values[STATE_COUNT + 2]


def plain_rates(t, y, par, phase, table_z, table_e):
    """Rates of all states as a tuple, in ordinary Python; ``tolist`` turns array scalars into quick floats."""
    v, _, own, missing, filtered, v_pol, t_w, t_c = y[:PHYSICAL_COUNT].tolist()
    return rates(t, v, own, missing, filtered, v_pol, t_w, t_c, par, phase, table_z, table_e)[:STATE_COUNT]


def plain_margins(t, y, par, phase, table_z, table_e):
    """Possible acceleration and breakaway margin, in ordinary Python."""
    v, _, _, missing, _, v_pol, t_w, t_c = y[:PHYSICAL_COUNT].tolist()
    return margins(t, v, missing, v_pol, t_w, t_c, par, phase, table_z, table_e)


def plain_electrical(t, y, par, phase, table_z, table_e):
    """Pack current (A), pack voltage (V) and motor current (A), in ordinary Python."""
    v, _, own, missing, filtered, v_pol, t_w, t_c = y[:PHYSICAL_COUNT].tolist()
    return rates(t, v, own, missing, filtered, v_pol, t_w, t_c, par, phase, table_z, table_e)[
        STATE_COUNT : STATE_COUNT + 3
    ]
