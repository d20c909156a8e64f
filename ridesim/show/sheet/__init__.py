"""The printed build sheet: what to buy, weld and check, one part a build, for the workshop wall and the first ride."""

from ridesim.show.sheet.pages import BuildSheet, build_sheet

__all__ = ["BuildSheet", "build_sheet"]
