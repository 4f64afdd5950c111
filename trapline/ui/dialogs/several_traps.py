"""Several traps at once: numbers from here to there, alike in all else."""

import re

from PySide6.QtWidgets import QLineEdit, QWidget

from trapline.actions.editing import add
from trapline.errors import InvalidValue
from trapline.model.fields import field_meta
from trapline.model.trap import Trap
from trapline.ui.dialogs.card_dialog import Card, CardDialog, at
from trapline.ui.dialogs.list_kinds import next_trap
from trapline.ui.dialogs.noun_form import typed_value
from trapline.ui.session import Session

MOST = 500
_RANGE = re.compile(r"([^0-9]*)([0-9]{1,9})\s*(?:-|–|to)\s*\1([0-9]{1,9})", re.IGNORECASE)


def numbers_in(text: str) -> list[str]:
    """Return the numbers of a typed list: ``1–20``, ``A01-A12``, ``3, 5, 8-10``.

    Raises
    ------
    InvalidValue
        Nothing, a range that runs backwards, or more than anyone adds at once.
    """
    found: list[str] = []
    for part in text.replace(";", ",").split(","):
        part = part.strip()
        if not part:
            continue
        match = _RANGE.fullmatch(part)
        if match is None:
            found.append(part)
            continue
        stem, first, last = match[1], match[2], match[3]
        low, high = int(first), int(last)
        if high < low or high - low >= MOST:
            raise InvalidValue(
                f"'{part}' is not a row of 1 to {MOST} numbers.",
                "Numbers",
                "Type the smaller one first, like 1–20.",
            )
        width = len(first) if first.startswith("0") else 1
        found += [f"{stem}{number:0{width}d}" for number in range(low, high + 1)]
    if not found or len(found) > MOST:
        raise InvalidValue(
            f"{len(found)} numbers cannot be added." if found else "There is no number.",
            "Numbers",
            "Type them like 1–20.",
        )
    return found


class SeveralTrapsDialog(CardDialog):
    """Numbers like 1–20, and what all of these traps have in common."""

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(session, "Add several traps", "Add traps", parent)
        like = next_trap(session.snapshot)
        first = int(like.number)
        self.numbers = QLineEdit(f"{first}–{first + 9}")
        card = Card("", columns=3)
        card.add(self.field("&Numbers", self.numbers, hint="like 1–20 or A01–A12"))
        self.boxes: dict[str, QLineEdit] = {}
        for caption, name in (
            ("&Kind of trap", "kind"),
            ("&Owner's mark", "owner_mark"),
            ("&Entrance mm", "entrance_mm"),
            ("&Mesh mm", "mesh_mm"),
            ("E&scape opening mm", "escape_mm"),
        ):
            value = getattr(like, name)
            box = QLineEdit(f"{value:g}" if isinstance(value, float) else value or "")
            self.boxes[name] = box
            label = str(field_meta(Trap, name)["label"])
            card.add(self.field(caption, box, key=label))
        self.column(card)
        self.setMinimumWidth(520)
        self.numbers.textChanged.connect(self._say_how_many)
        self._say_how_many()
        self.numbers.selectAll()
        self.numbers.setFocus()

    @staticmethod
    def ask(session: Session, parent: QWidget | None) -> bool:
        """Show the dialog; True when traps were added."""
        dialog = SeveralTrapsDialog(session, parent)
        done = dialog.exec() == CardDialog.DialogCode.Accepted
        dialog.deleteLater()
        return done

    def perform(self) -> None:
        """Add the traps in one step."""
        values = {}
        for name, box in self.boxes.items():
            meta = field_meta(Trap, name)
            with at(str(meta["label"])):
                values[name] = typed_value(box.text(), meta)
        traps = [Trap(number=number, **values) for number in numbers_in(self.numbers.text())]
        label = f"Add {len(traps)} traps" if len(traps) > 1 else "Add trap"
        with at("Numbers"):
            self.session.do_or_raise(add, *traps, label=label)

    def _say_how_many(self) -> None:
        try:
            n = len(numbers_in(self.numbers.text()))
        except InvalidValue:
            self.verb.setText("Add traps")
            return
        self.verb.setText("Add 1 trap" if n == 1 else f"Add {n} traps")
