"""The start page: the stages of the job, what each answers, and what is known of this vehicle already."""

from __future__ import annotations

import os
from html import escape
from pathlib import Path
from typing import NamedTuple

from ridesim.choose.compare import compare
from ridesim.choose.verdict import Verdict
from ridesim.choose.wiring import wiring
from ridesim.forms import InPlay
from ridesim.show.bench_motor.titles import TESTED
from ridesim.show.panel.files import own_builds
from ridesim.show.tables.html import html_table
from ridesim.sizing.chain_fit import chain_fit
from ridesim.vehicle import Build, load_build
from ridesim.vehicle.ledger import unplaced
from ridesim.words import InputProblem, split_unit, symbol

DEMO, DAY = "heron_36v", "harbour_festival"


class Stage(NamedTuple):
    """A stage of the job: where, what it answers, what is known."""

    notebook: str
    question: str
    known: str


class Start:
    """The start page; shows itself as the last expression of a cell.

    Attributes
    ----------
    build : Build
        The vehicle.
    stages : tuple of Stage
    said : str
        Which vehicle it is, and what is wrong where it cannot be read.
    """

    def __init__(self, build: Build, stages: tuple[Stage, ...], said: str) -> None:
        self.build, self.stages, self.said = build, stages, said

    def __repr__(self) -> str:
        return "\n".join([self.said, *(f"{each.notebook}: {each.question} {each.known}" for each in self.stages)])

    def _repr_html_(self) -> str:
        rows = [(_link(each.notebook), [escape(each.question), escape(each.known)]) for each in self.stages]
        table = html_table("Stages of the job", ["notebook", "what it answers", "what is known already"], rows)
        style = (
            "<style>.ridesim-start :is(td, th) { text-align: left !important; vertical-align: top; padding: 6px 18px 6px 0; font-size: 13px; }"
            ".ridesim-start caption { display: none; }</style>"
        )
        return f'<div class="ridesim-start">{style}<p>{escape(self.said)}</p>{table}</div>'


def start(folder: Path | None = None) -> Start:
    """The start page of a folder.

    Parameters
    ----------
    folder : Path, optional
        Where builds of one's own are looked for, the newest first; the current folder.

    Returns
    -------
    Start
        Of the newest build there, else of an invented one.
    """
    folder = folder or Path.cwd()
    mine = max(own_builds(folder), key=lambda name: os.stat(folder / name).st_mtime, default=None)
    if mine is None:
        said = "No build of yours is in this folder yet. This is what it looks like for an invented one, Heron, 36 V:"
        return _page(load_build(DEMO), said)
    try:
        build = load_build(folder / mine)
    except InputProblem as problem:
        return _page(load_build(DEMO), f"{problem} Until it is mended, this is the invented {DEMO}:")
    return _page(build, f"{build.name}, from {mine}:")


def _page(build: Build, said: str) -> Start:
    (verdict,) = compare(build, DAY).verdicts
    values = {each.place: each for each in build.in_play()}
    pack = build.pack
    return Start(build, (
        Stage("1_weigh_and_balance", "Where does the weight go: can it be pushed, held, stood, and do the blocks fit?", _weight(build)),
        Stage("2_bench_test_motor", "What is this motor, and what will it do on 24, 36 or 48 V?", _motor(build, values)),
        Stage("3_choose_drive", "Which voltage, which sprockets: will it do its day?", f"{verdict.sentence}{_next(verdict)}"),
        Stage(
            "4_choose_pack", "Will these blocks last, what do they cost, how are they charged?",
            f"{pack.nominal_voltage_v:g} V {pack.capacity_ah:g} Ah {pack.chemistry}; {_said(values['pack.peukert_exponent'], 'k')}",
        ),
        Stage(
            "5_chain_and_mounting", "Where must the motor sit so that the chain fits, does it hold, what is to be ordered?", _chain(build)
        ),
        Stage("6_wire_and_protect", "What cable, which fuse, and where?", wiring(build, DAY).verdict),
        Stage(
            "ridesim compare --sheet", "What to take to the yard: a build sheet to print",
            f"{build.total_mass_kg():.0f} kg with its rider; {_said(values['vehicle.rolling_coefficient'], 'rolling')}",
        ),
    ), said)  # fmt: skip


def _weight(build: Build) -> str:
    """Mass, and what is not placed yet."""
    mass, lost = f"{build.total_mass_kg(aboard=False):.0f} kg without its rider", unplaced(build)
    return f"{mass}; not placed yet: {', '.join(lost)}" if lost else f"{mass}; everything that weighs has its place"


def _chain(build: Build) -> str:
    """Whether the chain at the wheel fits, or what is missing for that."""
    try:
        return chain_fit(build).verdict
    except InputProblem as problem:
        return f"not judged yet: {problem.place} is {problem.found}" if problem.found == "nothing" else str(problem)


def _motor(build: Build, values: dict[str, InPlay]) -> str:
    tested = "tested on the bench" if TESTED in build.note else "not tested on the bench yet"
    key = next(
        (each for each in ("motor.torque_constant_nm_per_a", "motor.series_constant_nm_per_a2") if each in values),
        "motor.resistance_ohm",
    )
    return f"{build.motor.kind}, {_said(values[key], key.split('.')[1].split('_')[0] + ' constant')}, {tested}"


def _said(each: InPlay, name: str) -> str:
    """A value with its width and unit, and where it is from."""
    band = f" ({each.width.low:.3g} to {each.width.high:.3g})" if each.width and each.unsure else ""
    unit = symbol(split_unit(each.place.rpartition(".")[2])[1])
    return f"{name} {each.shown}{band}{f' {unit}' if unit else ''}{'' if each.given else ', ' + (each.source or 'usual value')}"


def _next(verdict: Verdict) -> str:
    """What would settle it."""
    return f" Measure first: {verdict.measure_first[0].what}." if verdict.measure_first else ""


def _link(notebook: str) -> str:
    return f'<a href="{notebook}.ipynb">{notebook}</a>' if notebook[0].isdigit() else f"<code>{escape(notebook)}</code>"
