"""Panels in tests without a browser are opened by the hundred."""

from __future__ import annotations

from types import SimpleNamespace

import pytest


@pytest.fixture(autouse=True)
def no_first_collection(monkeypatch: pytest.MonkeyPatch) -> None:
    """At its first rest a panel lets Python walk all objects there are: here those of all tests before it."""
    monkeypatch.setattr("ridesim.show.panel.desk.gc", SimpleNamespace(collect=int))
