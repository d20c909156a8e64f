"""What the vehicle must do: the day, its activities, routes and speed traces."""

from ridesim.day.day import Activity, Day
from ridesim.day.files import is_trace, load_day, load_route, load_trace
from ridesim.day.route import SURFACES, Leg, Route, need_surface
from ridesim.day.trace import Trace
