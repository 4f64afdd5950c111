"""The Compare page."""

from trapline.ui.pages.page import Page


class ComparePage(Page):
    """The Compare page."""

    title = "Compare"
