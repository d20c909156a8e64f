"""Answers of the main panel for tests."""

from __future__ import annotations

import pytest

from ridesim.show.choose_drive.inputs import Answer, Reckoner, Wish


def whole(wish: Wish, reckoner: Reckoner | None = None) -> Answer:
    """The answer to a wish once all draws are ridden."""
    reckoner = reckoner or Reckoner()
    quick = reckoner.answer(wish)
    return [quick, *reckoner.completed(wish, quick)][-1]


def quick_panels(monkeypatch: pytest.MonkeyPatch, hatches: bool = False, remedies: bool = False) -> None:
    """Panels without hatches or remedies, but where they are looked at: each change would wait for them."""
    if not hatches:
        monkeypatch.setattr("ridesim.show.choose_drive.panel.failing_stops", lambda build, day: iter(()))
    if not remedies:
        monkeypatch.setattr("ridesim.show.choose_drive.screen.Screen.show_remedies", lambda *_arguments: None)
