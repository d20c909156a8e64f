"""The printed build sheet: what to buy, weld and check, one part a build, for the workshop wall and the first ride."""

from ridesim.show.sheet.page import Sheet
from ridesim.show.sheet.pages import build_sheet

__all__ = ["Sheet", "build_sheet"]
