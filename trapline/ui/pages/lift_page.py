"""The Lift page."""

from trapline.ui.pages.page import Page


class LiftPage(Page):
    """The Lift page."""

    title = "Lift"
