"""The trap that is being lifted: its number large, where it stands, its bait, since when."""

from PySide6.QtCore import QSize, Qt
from PySide6.QtWidgets import QFrame, QHBoxLayout, QLabel, QVBoxLayout, QWidget

from trapline.analyses.lift_order import Stop
from trapline.drawing.icons import mark_icon
from trapline.drawing.theme import Theme, set_role
from trapline.model.instants import hours_between, local_text, now_utc
from trapline.model.line import Place
from trapline.model.snapshot import Snapshot
from trapline.model.trap import Trap
from trapline.model.trapset import TrapSet
from trapline.ui.pages.short_words import ShortLabel


def _short(role: str) -> ShortLabel:
    label = ShortLabel()
    set_role(label, role)
    return label


class TrapCard(QFrame):
    """A card that only tells; it changes nothing."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        set_role(self, "card")
        self.theme_name = "light"
        self.number = _short("numeral")
        self.place = _short("title")
        self.tags = _short("note")
        self.tags.setAlignment(Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter)
        self.mark = QLabel()
        self.bait = _short("heading")
        self.since = QLabel()
        self.since.setTextFormat(Qt.TextFormat.PlainText)
        self.since.setWordWrap(True)
        left = QVBoxLayout()
        left.setSpacing(0)
        word = QLabel("Trap")
        set_role(word, "note")
        left.addWidget(word)
        left.addWidget(self.number, 1)
        right = QVBoxLayout()
        right.setSpacing(3)
        right.addWidget(self.place)
        bait = QHBoxLayout()
        bait.setSpacing(4)
        bait.addWidget(self.mark)
        bait.addWidget(self.bait)
        bait.addStretch(1)
        bait.addWidget(self.tags)
        right.addLayout(bait)
        right.addWidget(self.since)
        layout = QHBoxLayout(self)
        layout.setContentsMargins(16, 8, 16, 8)
        layout.setSpacing(24)
        layout.addLayout(left)
        layout.addLayout(right, 1)

    def set_theme(self, theme: Theme) -> None:
        """Take the colours of the marks."""
        self.theme_name = theme.name

    def show_stop(self, snapshot: Snapshot, stop: Stop, zone: str) -> None:
        """Tell about one trap."""
        row = stop.trap_set
        trap, place = snapshot.get(Trap, row.trap_id), snapshot.get(Place, row.place_id)
        self.number.setText(stop.trap or "–")
        self.number.setAccessibleName(f"Trap {stop.trap}" if stop.trap else "Trap without a number")
        depth = f", {place.depth_m:g} m deep" if place and place.depth_m is not None else ""
        left_over = f"  (round {stop.earlier_round})" if stop.earlier_round else ""
        self.place.setText(f"{stop.place}{depth}{left_over}")
        word = "tags" if trap and len(trap.tags) > 1 else "tag"
        self.tags.setText(f"{word} {trap.tag_text}" if trap and trap.tags else "no tag noted")
        bait = snapshot.bait_of(row)
        self.bait.setText((bait.name if bait else "bait not noted") + _bait_words(row))
        if bait:
            self.mark.setPixmap(
                mark_icon(bait.mark, bait.colour, self.theme_name).pixmap(QSize(28, 28))
            )
        self.mark.setVisible(bait is not None)
        words, role = since_words(row, zone)
        self.since.setText(words)
        set_role(self.since, role)


def _bait_words(row: TrapSet) -> str:
    return "" if row.bait_action == "fresh" or row.state == "planned" else f", {row.bait_action}"


def since_words(row: TrapSet, zone: str) -> tuple[str, str]:
    """Return since when a trap is in the water, or when it was lifted, and the role of the text."""
    if row.state == "planned":
        return "not set yet", "note"
    since = local_text(row.set_utc, zone) or "a time nobody noted"
    if row.is_in_water:
        soak = f", {hours_words(row.set_utc, now_utc())}" if row.set_utc else ""
        return f"in the water since {since}{soak}", "bad"
    if row.condition == "lost":
        return f"lost; set {since}", "bad"
    soak = (
        f", after {hours_words(row.set_utc, row.lift_utc)}" if row.set_utc and row.lift_utc else ""
    )
    after = f"; {row.afterwards}" if row.afterwards else ""
    return (
        f"lifted {local_text(row.lift_utc, zone) or 'at a time nobody noted'}{soak}{after}",
        "good",
    )


def hours_words(start_utc: str | None, end_utc: str | None) -> str:
    """Return a soak as ``13 h 20 min`` or ``4 d 2 h``; empty where an end is not known."""
    if start_utc is None or end_utc is None or end_utc < start_utc:
        return ""
    minutes = round(hours_between(start_utc, end_utc) * 60)
    if minutes >= 72 * 60:
        return f"{minutes // 1440} d {minutes % 1440 // 60} h"
    return f"{minutes // 60} h {minutes % 60:02d} min" if minutes >= 60 else f"{minutes} min"
