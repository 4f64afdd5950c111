"""The five pages, in the order of a trip; each is loaded when it is first needed."""

from collections.abc import Callable
from typing import Final

from trapline.ui.pages.page import Page
from trapline.ui.session import Session


def _lay_out(session: Session) -> Page:
    from trapline.ui.pages.layout_page import LayoutPage

    return LayoutPage(session)


def _set(session: Session) -> Page:
    from trapline.ui.pages.set_page import SetPage

    return SetPage(session)


def _lift(session: Session) -> Page:
    from trapline.ui.pages.lift_page import LiftPage

    return LiftPage(session)


def _compare(session: Session) -> Page:
    from trapline.ui.pages.compare_page import ComparePage

    return ComparePage(session)


def _summary(session: Session) -> Page:
    from trapline.ui.pages.summary_page import SummaryPage

    return SummaryPage(session)


PAGES: Final[tuple[tuple[str, Callable[[Session], Page]], ...]] = (
    ("Lay out", _lay_out),
    ("Set", _set),
    ("Lift", _lift),
    ("Compare", _compare),
    ("Summary", _summary),
)
