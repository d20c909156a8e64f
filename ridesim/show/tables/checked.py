"""What ``ridesim check`` says of a good file: what it is, how unsure its values are, the defaults in play, what a bench log gives."""

from __future__ import annotations

import math
import re
from collections import Counter
from collections.abc import Sequence
from contextlib import suppress
from pathlib import Path

from ridesim import data
from ridesim.bench.discharge.log import load_discharge
from ridesim.bench.logs import KINDS as LOGS
from ridesim.bench.logs import likeliest, load_log
from ridesim.bench.motor.identify import MotorResult, identify_motor
from ridesim.bench.motor.log import MotorLog
from ridesim.bench.motor.next_reading import measure_next
from ridesim.bench.warm_up import WarmUpResult, identify_warm_up
from ridesim.bench.warm_up_log import WarmUpLog
from ridesim.day import Day, is_trace, load_day, load_route, load_trace
from ridesim.forms import InPlay, read_table, read_text
from ridesim.show.tables.text import wrapped
from ridesim.show.tables.timetable import timetable_text
from ridesim.sizing.chain import chain_of
from ridesim.vehicle import Build, load_build
from ridesim.vehicle.doubtful import doubtful_values
from ridesim.vehicle.pack import RATED_C
from ridesim.words import InputProblem, Uncertain, nearest, split_unit

KINDS = ("builds", "days", "routes", "traces", "logs")
WIDEST = 4.0
"""High over low end of a band above which a bench log's value is not printed to be copied."""


def check_text(reference: str) -> str:
    """What there is to say of a file that is good.

    Raises
    ------
    InputProblem
        No such file, or not a good one; as the file's own loader says it.
    """
    file = _found(reference)
    if file.suffix == ".csv":
        return _each_wrapped(f"{reference}: a good {_csv_text(file)}")
    kind = likeliest(read_table(file)[0], (Build, Day, *LOGS))
    if kind in LOGS:
        return _each_wrapped(f"{reference}: a good {_log_text(load_log(file), reference)}")
    if kind is Day:
        day = load_day(file)
        return f'{reference}: a good day, "{day.name}".\n{timetable_text(day)}\n{_values(day)}'
    build = load_build(file)
    for each in build.drive.chains:
        if each.chain is not None:
            _known_chain(each.chain, reference, f"{each.where}.chain")
    warmth = build.pack.capacity_by_temperature
    assumed = "\nAssumed: no row of pack.capacity_by_temperature reaches 25 °C, which counts as 1."
    reached = warmth is None or min(warmth)[0] <= RATED_C <= max(warmth)[0]
    doubts = [wrapped(f"  {each.text}") for each in doubtful_values(build)]
    good = "\n".join(["can be read, but look at this first:", *doubts]) if doubts else f'a good build, "{build.name}".'
    return f"{reference}: {good}\n{_values(build)}{'' if reached else assumed}"


def _known_chain(name: str, reference: str, place: str) -> None:
    try:
        chain_of(name)
    except InputProblem as problem:
        raise InputProblem(reference, place, problem.found, problem.expected, problem.hint) from None


def _each_wrapped(text: str) -> str:
    return "\n".join(wrapped(line) for line in text.splitlines())


def _found(reference: str) -> Path:
    """A file by path, or by the name of any shipped file."""
    for kind in KINDS:
        with suppress(InputProblem):
            return data.find(reference, kind)
    near = nearest(Path(reference).stem, [name for kind in KINDS for name in data.names(kind)])
    expected = "a path, or the name of a shipped build, day, route, trace or log"
    raise InputProblem(reference, "", "no such file", expected, f"Nearest shipped name: {near}." if near else "")


def _values(part: Build | Day) -> str:
    """What the file says and how unsure it is; then the defaults, with where they are from."""
    values = list(part.in_play())
    stated = [_line(each) for each in values if each.given and each.width is not None]
    left_out = _said_once([_line(each) for each in values if not each.given])
    lines = ["From the file, and between what nine in ten such values lie:", *stated] if stated else []
    lines += ["Defaults in play:", *left_out] if left_out else ["No defaults in play."]
    return "\n".join(lines)


def _said_once(lines: Sequence[str]) -> list[str]:
    """Lines that say the same of several places of a list as one: ``activity[…].laps = 1``."""
    anywhere = [re.sub(r"\[\d+\]", "[…]", line) for line in lines]
    times = Counter(anywhere)
    return list(dict.fromkeys(wide if times[wide] > 1 else line for wide, line in zip(anywhere, lines, strict=True)))


def _line(each: InPlay) -> str:
    width = ""
    if each.width is not None:
        width = f"   {each.width.low:.4g} to {each.width.high:.4g}" if each.unsure else "   exact"
    return wrapped(f"  {each.place} = {each.shown}{width}" + (f"   ({each.source})" if each.source else ""))


def _csv_text(file: Path) -> str:
    if _is_discharge(file):
        log = load_discharge(file)
        ends = f"{log.voltage_v[0]:.2f} to {log.voltage_v[-1]:.2f} V"
        text = f"discharge log, {len(log.time_s)} rows, {log.time_s[-1] - log.time_s[0]:g} s, {ends}."
        return "\n  ".join([text, *log.remarks])
    if is_trace(file):
        trace = load_trace(file)
        return f"trace, {trace.duration_s:g} s, {trace.length_m / 1000.0:.3f} km."
    route = load_route(file)
    return f"route, {len(route.legs)} leg{'s' if len(route.legs) != 1 else ''}, {route.length_m:g} m a lap."


def _is_discharge(file: Path) -> bool:
    """Whether a CSV's header speaks of volts and amps, whatever their units: a discharge, not a road."""
    lines = (line for line in read_text(file).splitlines() if line.strip() and not line.lstrip().startswith("#"))
    stems = {split_unit(cell.strip())[0] for cell in next(lines, "").split(",")}
    return bool({"voltage", "current"} & stems) and not {"speed", "length"} & stems


def _log_text(log: MotorLog | WarmUpLog, reference: str) -> str:
    """What a bench log gives, checked as its identification checks it."""
    found: MotorResult | WarmUpResult
    if isinstance(log, WarmUpLog):
        found = identify_warm_up(log, reference)
        what, more = "warm-up log", []
    else:
        found = identify_motor(log, reference)
        what = f"bench log of a {found.log.kind} motor"
        more = [] if found.log.series_wound else [f"Measure next: {measure_next(found)}"]
    lines = [f'{what}, "{found.log.name}". It gives, with 90 % bands:']
    lines += [_value_line(key, band) for key, band in found.values.items()]
    lines += [f"Left open: {sentence}" for sentence in found.not_told]
    return "\n  ".join([*lines, *(finding.text for finding in found.findings), *more])


def _value_line(key: str, band: Uncertain) -> str:
    """A line for a build; without a value to copy where the band is so wide that none can be believed."""
    if band.high <= WIDEST * band.low or band.low == band.high:
        return f"{key} = {{ low = {band.low:.4g}, likely = {band.value:.4g}, high = {band.high:.4g} }}"
    if math.isinf(band.high):
        return f"{key}: {band.low:.4g} or more; the log does not tell"
    return f"{key}: between {band.low:.4g} and {band.high:.4g}; the log does not tell"
