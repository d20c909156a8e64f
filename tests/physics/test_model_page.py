"""MODEL.md and the functions of ``ridesim.physics`` agree, in both directions."""

from __future__ import annotations

import importlib
import inspect
import pkgutil
import pydoc
import re
from collections.abc import Callable
from pathlib import Path
from typing import NamedTuple

import ridesim.physics

PAGE = (Path(ridesim.physics.__file__).parent / "MODEL.md").read_text(encoding="utf-8")
NOT_EQUATIONS = {"compiled"}
"""Modules of ``ridesim.physics`` without equations: the compiler's switch."""
DOTTED = re.compile(r"`(ridesim(?:\.\w+)+)`")


class Equation(NamedTuple):
    """One numbered block of the page."""

    number: str
    name: str
    text: str

    @property
    def order(self) -> tuple[int, ...]:
        return tuple(int(part) for part in self.number.split("."))

    @property
    def functions(self) -> list[str]:
        return DOTTED.findall(self.text.split("*Code:*")[-1].split("\n\n")[0])


def _equations() -> list[Equation]:
    parts = re.split(r"^### \((\d+\.\d+)\) (.+)$|^## .+$", PAGE, flags=re.MULTILINE)
    blocks = zip(parts[1::3], parts[2::3], parts[3::3], strict=True)
    return [Equation(*block) for block in blocks if block[0] is not None]


def _functions() -> dict[str, Callable[..., object]]:
    """Public functions of the package, by dotted path."""
    found = {}
    for module in pkgutil.iter_modules(ridesim.physics.__path__):
        if module.name in NOT_EQUATIONS:
            continue
        path = f"ridesim.physics.{module.name}"
        for name, value in vars(importlib.import_module(path)).items():
            function = getattr(value, "py_func", value)
            if not name.startswith("_") and inspect.isfunction(function) and function.__module__ == path:
                found[f"{path}.{name}"] = function
    return found


EQUATIONS = _equations()
FUNCTIONS = _functions()


def test_numbers_count_up_section_by_section():
    orders = [each.order for each in EQUATIONS]
    sections = [int(number) for number in re.findall(r"^## (\d+) ", PAGE, flags=re.MULTILINE)]
    assert sections == list(range(1, len(sections) + 1))
    wanted = [
        (section, place) for section in sections for place in range(1, 1 + sum(order[0] == section for order in orders))
    ]
    assert orders == wanted


def test_contents_name_every_equation():
    contents = PAGE.split("## Contents")[1].split("\n## ")[0].replace("\n  ", " ")
    listed = [entry.strip().lower() for entry in re.split(r"\n|·|: (?=\d+\.\d+ )", contents)]
    assert [entry for entry in listed if re.match(r"\d+\.\d+ ", entry)] == [
        f"{each.number} {each.name.lower()}" for each in EQUATIONS
    ]


def test_every_equation_has_a_formula_a_source_and_code():
    for each in EQUATIONS:
        assert re.search(r"^    \S", each.text, flags=re.MULTILINE), each.number
        assert each.text.count("*Source:*") == 1, each.number
        assert each.text.count("*Code:*") == 1, each.number
        assert each.functions, each.number


def test_every_name_on_the_page_exists():
    for dotted in set(DOTTED.findall(PAGE)):
        assert pydoc.locate(dotted) is not None, dotted


def test_functions_and_page_name_each_other():
    on_the_page = {dotted: [each.number for each in EQUATIONS if dotted in each.functions] for dotted in FUNCTIONS}
    in_docstrings = {
        dotted: re.findall(r"MODEL\.md \((.+?)\)", function.__doc__ or "") for dotted, function in FUNCTIONS.items()
    }
    assert in_docstrings == on_the_page
    assert [dotted for dotted, numbers in on_the_page.items() if len(numbers) != 1] == []


def test_docstrings_are_complete():
    """Every argument and the result stand in it, and where the equation comes from."""
    for dotted, function in FUNCTIONS.items():
        text = inspect.getdoc(function) or ""
        sections = dict(re.findall(r"^(\w+)\n-+\n(.*?)(?=^\w+\n-+\n|\Z)", text, flags=re.MULTILINE | re.DOTALL))
        assert {"Parameters", "Returns", "References"} <= set(sections), dotted
        headings = re.findall(r"^(\S.*?) : ", sections["Parameters"], flags=re.MULTILINE)
        described = [name for heading in headings for name in heading.split(", ")]
        assert sorted(described) == sorted(inspect.signature(function).parameters), dotted
