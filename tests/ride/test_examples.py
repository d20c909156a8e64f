"""The examples in the docstrings say what they print."""

from __future__ import annotations

import doctest
from importlib import import_module

import pytest


@pytest.mark.parametrize("room", ["simulate", "result", "steady.pull", "steady.range", "steady.speeds"])
def test_examples(room):
    found = doctest.testmod(import_module(f"ridesim.ride.{room}"))
    assert found.attempted > 0
    assert found.failed == 0
