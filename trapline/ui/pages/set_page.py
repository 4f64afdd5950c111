"""The Set page."""

from trapline.ui.pages.page import Page


class SetPage(Page):
    """The Set page."""

    title = "Set"
