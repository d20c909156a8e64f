"""The state of a ride and its motion through one phase at a time, for the reference solution.

A phase is a stretch of time in which one set of smooth equations holds; its end is a known time or a located event.
Written apart from the production code.
"""

import math
from collections.abc import Callable
from typing import NamedTuple

import numpy
from scipy.integrate import solve_ivp

from . import equations as eq
from . import forms

SHORTEST_PHASE_S = 1e-9  # shorter ones are skipped: below the clock's own rounding late in a day
STEP_WHERE_IN_DOUBT_S = 0.5
BREAKAWAY_EXCESS_N = 1e-9  # "exceeds", where rounding would otherwise start and stop a balanced vehicle for ever
SLOW_MPS = 0.1
SLOW_TIME_S = 60.0
CUTS_IN_A_ROW = 10  # one more, each within a minute of the last return, and the rider gives up
A_MINUTE_S = 60.0
OWN, MISSING, FILTERED = (eq.STATES.index(name) for name in ("own", "missing", "filtered_a"))
WINDING = eq.STATES.index("winding_c")
BRAKE = eq.STATES.index("brake")


class LeavesActivityError(Exception):
    """The vehicle has been slower than 0.1 m/s for 60 s under full command."""


class Event(NamedTuple):
    """An event of a phase."""

    name: str
    function: Callable  # of time (s) and state, zero at the event
    direction: int  # +1 rising, -1 falling
    terminal: bool = True


def _watched(event):
    """The event in the solver's form, its values at the solver's own points kept.

    A multi-step solver's interpolant does not quite pass through the step's first point. Where an event function
    starts near zero this could hide the change of sign that the steps themselves have shown.
    """
    seen = {}
    function = event.function

    def value(t, y):
        if t not in seen:
            seen[t] = function(t, y)
        return seen[t]

    value.direction, value.terminal = event.direction, event.terminal
    return value


def _unchanged(named):
    return named


class Motion:
    """State, clock and extremes of one ride, moved a phase at a time.

    Parameters and tables from ``ride_parameters``; state of charge at the start (0 to 1); ``rtol`` and ``compiled_rhs``
    as for ``reference_ride``.
    """

    def __init__(self, par, table_z, table_e, start_charge, rtol, compiled_rhs):
        self.par, self.tables = par, (table_z, table_e)
        self._argument = forms.one_record if compiled_rhs else _unchanged
        self._par_argument = self._argument(par)
        self._points_between = 8 if rtol < 1e-7 else 0
        self._rates = forms.compiled_rates if compiled_rhs else forms.plain_rates
        self._margins = forms.compiled_margins if compiled_rhs else forms.plain_margins
        self._electrical = forms.compiled_electrical if compiled_rhs else forms.plain_electrical
        # What counts as small: 1 m/s, 1 m, a tenth of the charge, 1 A, 0.1 V, 1 K, 1 kJ.
        scale = numpy.full(eq.STATE_COUNT, 1000.0)
        scale[: eq.PHYSICAL_COUNT] = 1.0, 1.0, 0.1, 0.1, 1.0, 0.1, 1.0, 1.0
        self._options = {"rtol": rtol, "atol": rtol * scale, "method": "LSODA"}
        self.y = numpy.zeros(eq.STATE_COUNT)
        self.y[OWN] = 1.0 - start_charge if par.law == eq.RECOVERY else start_charge
        self.y[MISSING] = 1.0 - start_charge
        self.y[WINDING] = self.y[WINDING + 1] = par.ambient
        self.clock = 0.0
        self.legs_done = 0.0  # m, of the activity
        self.lowest_v, self.highest_a, self.hottest_c = math.inf, 0.0, -math.inf
        self.mass = self.effective_mass = 1.0
        self.rolling = self.grade = self.grade_rate = 0.0
        self.standby = self.lights = self.charge_set = 0.0
        self.pack_gives = start_charge > 0.0
        self.slow_since = None
        self.switched_on = True
        self.throttle_open_at = None  # s; None: closed
        self.off_until = self.back_at = -math.inf
        self.cut_outs = self.cuts_in_a_row = 0
        self.first_cut_out = None  # s
        self.crossings = {}  # times, s, of each event in the latest phase
        # An arrival on the command is sought this far (m/s) above it, so that a vehicle that has just fallen off by
        # less than the solver's error does not arrive again at once.
        self.arrival_margin = 20.0 * rtol

    @property
    def v(self):
        """Speed, m/s."""
        return float(self.y[0])

    @v.setter
    def v(self, value):
        self.y[0] = value

    @property
    def position(self):
        """Distance, m, since the activity's or the leg's start."""
        return float(self.y[1])

    @position.setter
    def position(self, value):
        self.y[1] = value

    def wake_pack(self):
        """Decide, at a new activity, whether the pack gives: not empty, or a charger brings more than the loads take."""
        loads = self.standby + self.lights / eq.open_circuit_voltage(1.0 - float(self.y[MISSING]), *self.tables)
        self.pack_gives = self.charge(self.y) > 0.0 or self.charge_set > loads

    def charge(self, y):
        """State of charge."""
        return eq.state_of_charge(float(y[OWN]), float(y[MISSING]), float(y[FILTERED]), self.par)

    def brake_to(self, speed):
        """Let the friction brake take the speed down to ``speed`` (m/s) at once."""
        self.y[BRAKE] += 0.5 * self.effective_mass * (self.v**2 - speed**2)
        self.v = speed

    def meet(self, command):
        """Brake what is above the command (m/s); say whether the vehicle is now on it."""
        if self.v > command:
            self.brake_to(command)
        if self.v >= command - 1e-9:
            self.v = command
            return True
        return False

    def _phase(self, mode, acceleration=0.0):
        gives = self.pack_gives
        return eq.Phase(
            mode,
            acceleration,
            self.grade,
            self.grade_rate,
            self.mass,
            self.effective_mass,
            self.rolling,
            1.0 if gives else 0.0,
            self.standby if gives else 0.0,
            self.lights if gives else 0.0,
            self.charge_set if gives else 0.0,
            1.0 if self.switched_on else 0.0,
            self._since_throttle(),
        )

    def _since_throttle(self):
        """Seconds since the throttle opened; one that opens now begins its soft start only from a stand."""
        if self.throttle_open_at is not None:
            return self.clock - self.throttle_open_at
        return 0.0 if self.v <= 0.0 else self.par.ramp

    def close_throttle(self):
        """Let the next phase with drive open it anew, from a stand with a soft start."""
        if self.v <= 0.0:
            self.throttle_open_at = None

    def _switching(self, mode, argument):
        """Event of a cut-out controller in a phase, or None: off, its return; on, the pack's voltage at the cut-off."""
        par = self.par
        if par.cuts_out == 0.0 or not self.pack_gives:
            return None
        if not self.switched_on:
            waits = self.off_until - self.clock

            def back(t, y):
                voltage = self._electrical(t, y, self._par_argument, argument, *self.tables)[1]
                return min(voltage - par.restart, t - waits)

            return Event("switches", back, 1)
        if mode in (eq.REST, eq.COAST):
            return None

        def spare(t, y):
            _, voltage, current = self._electrical(t, y, self._par_argument, argument, *self.tables)
            return voltage - par.cutoff if current > 0.0 else 1.0

        return Event("switches", spare, -1)

    def _switch(self):
        """Cut out, or come back."""
        if not self.switched_on:
            self.switched_on = True
            self.back_at = self.throttle_open_at = self.clock
            return
        again = self.cut_outs > 0 and self.cuts_in_a_row > 0 and self.clock - self.back_at < A_MINUTE_S
        self.cuts_in_a_row = self.cuts_in_a_row + 1 if again else 1
        self.cut_outs += 1
        self.switched_on = False
        self.off_until = self.clock + self.par.restart_delay
        self.lowest_v = min(self.lowest_v, self.par.cutoff)
        if self.first_cut_out is None:
            self.first_cut_out = self.clock

    def margins(self):
        """Possible acceleration (m/s²) here and now, and whether the pull at standstill breaks away."""
        possible, excess = self._margins(
            0.0, self.y, self._par_argument, self._argument(self._phase(eq.FOLLOW)), *self.tables
        )
        return possible, excess > BREAKAWAY_EXCESS_N

    def can_roll_away(self):
        """Whether the slope or a tail wind alone starts the standing vehicle against rolling and motor friction."""
        rolling, climb, air = eq.resistances(0.0, 0.0, self.par, self._phase(eq.COAST))
        k = eq.motor_constants(float(self.y[WINDING]), float(self.y[WINDING + 1]), self.par)[1]
        drag = -eq.force_of_current(0.0, 0.0, k, self.par)
        return -climb - air > self.par.breakaway * rolling + drag

    def integrate(self, phase, duration, events=()):
        """Move through one phase for a time, s, at most; hand back the event that ended it (None: time was up) and the time gone.

        An empty pack is added to the events that may end it.
        """
        self.crossings = {}
        if duration <= SHORTEST_PHASE_S:
            self.clock += duration
            return None, duration
        rates, par, tables = self._rates, self._par_argument, self.tables
        if phase.mode == eq.REST:
            self.throttle_open_at = None
        elif phase.mode != eq.COAST and self.throttle_open_at is None:
            self.throttle_open_at = self.clock - self._since_throttle()
        watches_voltage = self.par.cuts_out > 0.0 and phase.mode != eq.REST
        doubtful = self.grade_rate != 0.0 or phase.mode in (eq.BELOW, eq.COAST) or watches_voltage
        mode, phase = phase.mode, self._argument(phase)
        switching = self._switching(mode, phase)
        if switching is not None:
            beyond = switching.direction * switching.function(0.0, self.y)
            if beyond > 0.0:
                self._switch()
                return switching.name, 0.0
            events = [*events, switching]
        if self.pack_gives:
            events = [*events, Event("empty", lambda t, y: self.charge(y), -1)]

        def right_side(t, y):
            return rates(t, y, par, phase, *tables)

        options = self._options
        if self._points_between and doubtful:
            # What touches its threshold between two points goes unseen: keep the points close where that can happen.
            options = {**options, "max_step": STEP_WHERE_IN_DOUBT_S}
        solution = solve_ivp(
            right_side,
            (0.0, duration),
            self.y,
            events=[_watched(event) for event in events] or None,
            dense_output=self._points_between > 0,
            **options,
        )
        if not solution.success:
            raise RuntimeError(solution.message)
        self._note_extremes(solution.t, solution.y, phase)
        if self._points_between:
            between = numpy.linspace(solution.t[:-1], solution.t[1:], self._points_between + 2)[1:-1].ravel()
            self._note_extremes(between, solution.sol(between), phase)
        self.y = solution.y[:, -1].copy()
        gone, name = duration, None
        for event, times in zip(events, solution.t_events or (), strict=True):
            self.crossings[event.name] = times.tolist()
            if event.terminal and len(times):
                gone, name = float(times[-1]), event.name
        if name == "empty":
            if self.par.law < eq.RECOVERY:
                self.y[OWN] = 0.0
            self.pack_gives = False
        self.clock += gone
        if name == "switches":
            self._switch()
        return name, gone

    def _note_extremes(self, times, states, phase):
        for t, y in zip(times.tolist(), states.T, strict=True):
            current, voltage, _ = self._electrical(t, y, self._par_argument, phase, *self.tables)
            self.lowest_v = min(self.lowest_v, voltage)
            self.highest_a = max(self.highest_a, current)
        self.hottest_c = max(self.hottest_c, float(states[WINDING].max()))

    def stand(self, duration):
        """Stand for a time, s: motor off, loads and charger as set."""
        self.slow_since = None
        while duration > 0.0:
            _, gone = self.integrate(self._phase(eq.REST), duration)
            duration -= gone

    def follow(self, acceleration, duration):
        """Hold a given acceleration (m/s²) until its time (s) is up, the pull falls short, or the pack is empty."""
        self.slow_since = None
        phase = self._phase(eq.FOLLOW, acceleration)
        argument = self._argument(phase)

        def spare(t, y):
            return self._margins(t, y, self._par_argument, argument, *self.tables)[0] - acceleration

        return self.integrate(phase, duration, [Event("fell off", spare, -1)])

    def below(self, duration, arrivals):
        """Close up to the command with the least of pull and rider, until an arrival, a stop, or the time (s) is up."""
        duration = self._until_leaving(duration, self.margins()[0] <= self.par.rider_acceleration)
        slow = self.slow_since is not None
        watched = [
            *arrivals,
            Event("stopped", lambda t, y: y[0], -1),
            Event("slower", lambda t, y: y[0] - SLOW_MPS, -1, terminal=not slow),
        ]
        if slow:
            watched.append(Event("faster", lambda t, y: y[0] - SLOW_MPS, 1, terminal=False))
        begin = self.clock
        name, gone = self.integrate(self._phase(eq.BELOW), duration, watched)
        if slow and self.crossings.get("faster"):
            again = max(self.crossings["slower"], default=-1.0)
            self.slow_since = begin + again if again > max(self.crossings["faster"]) else None
        if name == "stopped":
            self.v = 0.0
        self._leave_if_slow_for_long()
        return name, gone

    def stalled(self, duration):
        """Stand under full command until the pull suffices to break away, or the time (s) is up."""
        duration = self._until_leaving(duration, True)
        phase = self._phase(eq.STALL)
        argument = self._argument(phase)

        def spare(t, y):
            return self._margins(t, y, self._par_argument, argument, *self.tables)[1] - BREAKAWAY_EXCESS_N

        name, gone = self.integrate(phase, duration, [Event("starts", spare, 1)])
        self._leave_if_slow_for_long()
        return name, gone

    def coast(self, duration):
        """Roll with neither motor nor brake for a time, s; stand once stopped."""
        self.slow_since = None
        name = None
        if self.v > 0.0 or self.can_roll_away():
            phase = self._phase(eq.COAST)
            name, gone = self.integrate(phase, duration, [Event("stopped", lambda t, y: y[0], -1)])
            if name == "stopped":
                self.v = 0.0
        else:
            _, gone = self.integrate(self._phase(eq.REST), duration)
        return name, gone

    def _until_leaving(self, duration, full_command):
        """Start or stop the clock of the 60 s rule; the phase may last no longer than that clock."""
        # A hair of tolerance: a phase that ended on falling through the threshold lands on either side of it.
        if self.v > SLOW_MPS + 1e-9 or not full_command:
            self.slow_since = None
            return duration
        if self.slow_since is None:
            self.slow_since = self.clock
        return min(duration, max(self.slow_since + SLOW_TIME_S - self.clock, 0.0))

    def _leave_if_slow_for_long(self):
        slow = self.slow_since is not None and self.clock - self.slow_since >= SLOW_TIME_S - 1e-8
        if slow or self.cuts_in_a_row > CUTS_IN_A_ROW:
            raise LeavesActivityError
