"""The pages of a report as they will print, one below the other, painted when they are seen."""

from PySide6.QtCore import QPoint, QRectF, QSize, Qt
from PySide6.QtGui import QColor, QImage, QPainter, QPaintEvent, QPalette, QWheelEvent
from PySide6.QtWidgets import QScrollArea, QWidget

from trapline.drawing.paper import page_size_mm
from trapline.reports.page import Report

_GAP_PX = 14
_MM_PER_INCH = 25.4
# A page wider than this is hard to read on a wide screen.
_WIDEST_PX = 860
_ZOOMS = (0.5, 0.67, 0.8, 1.0, 1.25, 1.5, 2.0, 3.0)
# So many pictures are kept: those in view and one to each side.
_MOST_KEPT = 5


class PagePictures(QScrollArea):
    """A scrolled column of pages; Ctrl+wheel makes them larger or smaller."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setAccessibleName("The pages as they will print")
        self.setFrameShape(QScrollArea.Shape.NoFrame)
        self.setWidgetResizable(True)
        self.sheets = _Sheets()
        self.setWidget(self.sheets)
        self.zoom = 1.0

    def set_report(self, report: Report | None) -> None:
        """Show another report, or nothing; the place in it stays where it can."""
        self.sheets.set_report(report)
        pages = f"{report.n_pages} pages" if report and report.n_pages > 1 else "1 page"
        self.setAccessibleDescription(pages if report else "Nothing to print yet")
        self._arrange()

    def zoom_by(self, steps: int) -> None:
        """Make the pages larger (1) or smaller (-1)."""
        at = min(range(len(_ZOOMS)), key=lambda n: abs(_ZOOMS[n] - self.zoom))
        self.zoom = _ZOOMS[min(max(at + steps, 0), len(_ZOOMS) - 1)]
        self._arrange()

    def page_in_view(self) -> int:
        """Return the number of the page at the top of the view, from 0."""
        return self.sheets.page_at(self.verticalScrollBar().value() + self.viewport().height() // 3)

    def _arrange(self) -> None:
        room = self.viewport().width() - 2 * _GAP_PX
        width = max(200, round(min(room, _WIDEST_PX) * self.zoom))
        self.sheets.set_page_width(width)

    # Qt overrides

    def resizeEvent(self, event: object) -> None:
        super().resizeEvent(event)  # type: ignore[arg-type]  # handed on as it came
        self._arrange()

    def wheelEvent(self, event: QWheelEvent) -> None:
        if event.modifiers() & Qt.KeyboardModifier.ControlModifier:
            self.zoom_by(1 if event.angleDelta().y() > 0 else -1)
            event.accept()
            return
        super().wheelEvent(event)


class _Sheets(QWidget):
    """The pages themselves."""

    def __init__(self) -> None:
        super().__init__()
        self.report: Report | None = None
        self._page = QSize(1, 1)
        self._pictures: dict[int, QImage] = {}

    def set_report(self, report: Report | None) -> None:
        self.report = report
        self._pictures.clear()
        self.update()

    def set_page_width(self, width: int) -> None:
        """Lay the pages out at that width in pixels."""
        height = 0
        if self.report is not None:
            size = page_size_mm(self.report.setup)
            page = QSize(width, round(width * size.height() / size.width()))
            if page != self._page:
                self._page = page
                self._pictures.clear()
            height = self.report.n_pages * (page.height() + _GAP_PX) + _GAP_PX
        self.setMinimumSize(width + 2 * _GAP_PX, height)
        self.update()

    def page_at(self, y: int) -> int:
        """Return the page at a height in pixels, from 0."""
        last = self.report.n_pages - 1 if self.report else 0
        return min(max((y - _GAP_PX) // (self._page.height() + _GAP_PX), 0), last)

    def painted(self) -> tuple[int, ...]:
        """Return the pages whose pictures are kept, the latest last."""
        return tuple(self._pictures)

    def top_left(self, number: int) -> QPoint:
        """Return where a page is shown."""
        x = max(_GAP_PX, (self.width() - self._page.width()) // 2)
        return QPoint(x, _GAP_PX + number * (self._page.height() + _GAP_PX))

    def _picture(self, number: int) -> QImage:
        assert self.report is not None
        ratio = self.devicePixelRatioF()
        kept = self._pictures.pop(number, None)
        if kept is None or kept.devicePixelRatio() != ratio:
            inches = page_size_mm(self.report.setup).width() / _MM_PER_INCH
            kept = self.report.picture(number, self._page.width() * ratio / inches)
            kept.setDevicePixelRatio(ratio)
        self._pictures[number] = kept  # the latest stand last
        while len(self._pictures) > _MOST_KEPT:
            del self._pictures[next(iter(self._pictures))]
        return kept

    # Qt overrides

    def paintEvent(self, event: QPaintEvent) -> None:
        if self.report is None:
            return
        painter = QPainter(self)
        shadow = self.palette().color(QPalette.ColorRole.Mid)
        for number in range(self.report.n_pages):
            corner = self.top_left(number)
            box = QRectF(corner, self._page)
            if not box.intersects(QRectF(event.rect())):
                continue
            painter.fillRect(box.adjusted(-1, -1, 1, 1), shadow)
            painter.fillRect(box, QColor("white"))
            painter.drawImage(corner, self._picture(number))
        painter.end()
