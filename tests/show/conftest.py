"""Panels in tests without a browser are opened by the hundred."""

from __future__ import annotations

from types import SimpleNamespace

import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg


class Unpainted(FigureCanvasAgg):
    """What stands still under a picture is laid out and not painted, which takes most of a picture's time."""

    def draw(self) -> None:
        """Paint nothing."""


@pytest.fixture(autouse=True)
def bare_panels(monkeypatch: pytest.MonkeyPatch, request: pytest.FixtureRequest) -> None:
    """Axes are painted only for tests of pictures; at its first rest no panel lets Python walk all objects of all tests before it."""
    monkeypatch.setattr("ridesim.show.panel.desk.gc", SimpleNamespace(collect=int))
    if "pictures" not in request.keywords:
        monkeypatch.setattr("ridesim.show.panel.drawing.FigureCanvasAgg", Unpainted)
