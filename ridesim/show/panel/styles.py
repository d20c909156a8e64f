"""Where the page's side of the kit lies, and its style sheet, read once."""

from pathlib import Path

FRONT = Path(__file__).parent / "front"
SHEET = (FRONT / "panel.css").read_text(encoding="utf-8")
