"""What the window looks like: themes; the map's own view belongs to the Lay out page."""

from PySide6.QtWidgets import QApplication

from trapline.drawing.theme import apply_theme
from trapline.ui.commands.handler import Handler


class ViewCommands(Handler):
    """The View menu."""

    def on_fit_map(self) -> None:
        """Show the whole line on the map."""
        from trapline.ui.pages.layout_page import LayoutPage

        self.window.show_page(0)
        page = self.window.page
        if isinstance(page, LayoutPage):
            page.canvas.fit()

    def on_light(self) -> None:
        """Ordinary daylight."""
        self._theme("light")

    def on_dark(self) -> None:
        """For a dark boat."""
        self._theme("dark")

    def on_sunlight(self) -> None:
        """Black on white, larger, for bright sun on the screen."""
        self._theme("sunlight")

    def _theme(self, name: str) -> None:
        app = QApplication.instance()
        assert isinstance(app, QApplication)
        self.window.take_theme(apply_theme(app, name))
        self.window.settings.setValue("theme", name)
