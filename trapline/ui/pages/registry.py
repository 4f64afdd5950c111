"""The five pages, in the order of a trip."""

from trapline.ui.pages.compare_page import ComparePage
from trapline.ui.pages.layout_page import LayoutPage
from trapline.ui.pages.lift_page import LiftPage
from trapline.ui.pages.page import Page
from trapline.ui.pages.set_page import SetPage
from trapline.ui.pages.summary_page import SummaryPage
from trapline.ui.session import Session


def make_pages(session: Session) -> list[Page]:
    """Return one of each page."""
    return [kind(session) for kind in (LayoutPage, SetPage, LiftPage, ComparePage, SummaryPage)]
