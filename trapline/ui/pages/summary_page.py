"""The Summary page."""

from trapline.ui.pages.page import Page


class SummaryPage(Page):
    """The Summary page."""

    title = "Summary"
