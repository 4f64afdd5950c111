"""Type in a past trip from paper: a table to type or paste into, with what was understood of it."""

from PySide6.QtWidgets import QComboBox, QLineEdit, QWidget

from trapline.actions.past_trip import named_or_new, record_past_trip
from trapline.analyses.improbable import improbable_among
from trapline.errors import InvalidValue
from trapline.exchange.past_rows import PaperRules
from trapline.model.instants import check_day, computer_zone, zone
from trapline.model.line import LINE_KINDS, Line
from trapline.model.species import Species
from trapline.model.trip import Trip
from trapline.model.water import Water
from trapline.ui.dialogs.card_dialog import Card, CardDialog, choose, plain_label
from trapline.ui.dialogs.question import ask
from trapline.ui.dialogs.trip_cards import name_box
from trapline.ui.dialogs.which_time import today
from trapline.ui.session import Session
from trapline.ui.tables.past_table import PastTable

_HOW = (
    "One row a trap lifted. Times like 18:30, or 2026-08-01 18:30 where the day is not plain."
    " Count: 0 for an empty trap, blank for not counted. Paste from a spreadsheet with Ctrl+V,"
    " with or without its headers."
)


class PastTripDialog(CardDialog):
    """The head of the paper, and its rows."""

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(session, "Type in a past trip", "Record", parent)
        snapshot, trip = session.snapshot, session.trip
        water = snapshot.water_of(trip) if trip else None
        target = snapshot.get(Species, trip.target_species_id) if trip else None
        targets = [one.name for one in snapshot.species("target")]
        kinds = [(kind, kind) for kind in LINE_KINDS]
        self.name = QLineEdit()
        self.water = name_box(
            [one.name for one in snapshot.all(Water)], water.name if water else ""
        )
        self.kind, self.lift = QComboBox(), QComboBox()
        choose(self.kind, kinds, session.line.kind if session.line else LINE_KINDS[1])
        choose(self.lift, [("on the next day", 1), ("on the same day", 0), ("two days on", 2)])
        self.first_day = QLineEdit()
        self.first_day.setPlaceholderText("2026-08-01")
        self.zone = name_box([], trip.zone if trip else computer_zone())
        self.species = name_box(targets, target.name if target else (targets or [""])[0])
        head = Card("The paper", 4)
        for widget, caption, key in (
            (self.name, "&Name of the trip", "Name"),
            (self.water, "&Water", "Water"),
            (self.kind, "&Kind of line", "Kind of line"),
            (self.species, "&Species counted", "Species"),
            (self.first_day, "First &day", "First day"),
            (self.lift, "&Lifts without a date", "Lift"),
            (self.zone, "Time &zone", "Time zone"),
        ):
            head.add(self.field(caption, widget, key=key))
        self.table = PastTable(self.rules)
        self.summary = plain_label(role="note")
        self.column(head, plain_label(_HOW, "note"), self.table, self.summary)
        self.table.changed.connect(self._count)
        self.table.selectionModel().currentChanged.connect(self._count)
        self.first_day.editingFinished.connect(self.table.understand_all)
        self.zone.currentTextChanged.connect(self.table.understand_all)
        self.lift.currentIndexChanged.connect(self.table.understand_all)
        self.verb.setAutoDefault(False)
        self.verb.setDefault(False)
        self._count()
        self.name.setFocus()

    @staticmethod
    def ask(session: Session, parent: QWidget | None = None) -> bool:
        """Show the dialog; True when a trip was recorded."""
        dialog = PastTripDialog(session, parent)
        done = dialog.exec() == CardDialog.DialogCode.Accepted
        dialog.deleteLater()
        return done

    def rules(self) -> PaperRules:
        """How times are meant; today and the computer's zone while others cannot be read."""
        name = self.zone.currentText().strip()
        try:
            zone(name)
        except InvalidValue:
            name = computer_zone()
        day = self.first_day.text().strip()
        try:
            check_day(day, "First day")
        except InvalidValue:
            day = today(name)
        return PaperRules(name, day, int(self.lift.currentData() or 0))

    def _count(self) -> None:
        found, problems = self.table.found(), self.table.problems()
        rounds = len({row.round for row in found})
        words = f"{len(found)} lifts in {rounds} round{'s' if rounds != 1 else ''} understood"
        if problems:
            here = self.table.currentIndex().row() + 1
            number, problem = next((one for one in problems if one[0] == here), problems[0])
            words += f"; {len(problems)} not: row {number}, {problem.where}: {problem.error}"
            words += f" {problem.what_to_do}"
        self.summary.setText(f"{words.rstrip('.')}.")
        lifts = f"{len(found)} lift{'s' if len(found) != 1 else ''}"
        self.verb.setText(f"Record {lifts}" if found else "Record")
        self.verb.setEnabled(bool(found) and not problems)

    def perform(self) -> None:
        """Write the trip in one step, after a question where counts look mistyped."""
        name, day = self.name.text().strip(), self.first_day.text().strip()
        if not name:
            raise InvalidValue("The trip has no name.", "Name", "Type one.")
        zone_name = self.zone.currentText().strip()
        zone(zone_name)
        if day:
            check_day(day, "First day")
        elif self.table.needs_day():
            raise InvalidValue(
                "Some times have no date.", "First day", "Type the date of the first round."
            )
        rows = self.table.found()
        self._ask_about_odd_counts([row.count for row in rows], [row.row for row in rows])
        snapshot = self.session.snapshot
        water_name = _filled(self.water, "Water")
        species_name = _filled(self.species, "Species")
        water = named_or_new(snapshot.all(Water), water_name, Water(name=water_name))
        species = named_or_new(snapshot.all(Species), species_name, Species(name=species_name))
        trip = Trip(name=name, zone=zone_name, started_on=day or None)
        self.session.do_or_raise(
            record_past_trip, trip, rows, water=water, line=self._line(water), target=species
        )
        self.session.choose_trip(trip.id)

    def _line(self, water: Water) -> Line:
        """Return the line of that kind on the water, the session's where there are several."""
        kind = self.kind.currentData()
        lines = [row for row in self.session.snapshot.lines(water.id) if row.kind == kind]
        if self.session.line in lines and self.session.line is not None:
            return self.session.line
        return lines[0] if lines else Line(kind=kind)

    def _ask_about_odd_counts(self, counts: list[int | None], numbers: list[int]) -> None:
        odd = improbable_among(counts)
        if not odd:
            return
        some = "; ".join(f"row {numbers[n]}: {counts[n]}" for n in odd[:5])
        words = f"Ten times what the other traps held, or more: {some}. Are they right?"
        if not ask(self, words, "They are right"):
            raise InvalidValue("Nothing was recorded yet.", "", "Correct the counts.")


def _filled(box: QComboBox, name: str) -> str:
    text = box.currentText().strip()
    if not text:
        raise InvalidValue(f"{name} is empty.", name, "Choose one, or type a new name.")
    return text
