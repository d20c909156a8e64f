"""The examples in the workshop's own pages say what they print."""

from __future__ import annotations

import doctest
from importlib import import_module
from pkgutil import iter_modules

import pytest

from ridesim import sizing


@pytest.mark.parametrize("name", [each.name for each in iter_modules(sizing.__path__)])
def test_examples_are_true(name):
    assert doctest.testmod(import_module(f"ridesim.sizing.{name}")).failed == 0
