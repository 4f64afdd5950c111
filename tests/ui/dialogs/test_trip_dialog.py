"""New trip, edit trip and round, new trip from this one."""

from typing import Any

import pytest
from PySide6.QtCore import QDate
from PySide6.QtWidgets import QDialog, QLineEdit

from tests.ui.dialogs.conftest import Desk
from trapline.actions.trips import edit_trip
from trapline.model.line import LINE_KINDS, Line
from trapline.model.species import Species
from trapline.model.trip import Trip
from trapline.model.water import Water
from trapline.ui.dialogs import which_time
from trapline.ui.dialogs.card_dialog import Field
from trapline.ui.dialogs.trip_dialog import NextTripDialog, TripDialog, free_name


@pytest.fixture
def new(desk: Desk) -> TripDialog:
    dialog = TripDialog(desk.session, None, new=True)
    desk.keep(dialog)
    return dialog


def edit(desk: Desk) -> TripDialog:
    dialog = TripDialog(desk.session, None, new=False)
    desk.keep(dialog)
    return dialog


def at_field(dialog: Any, key: str) -> Field:
    (field,) = [one for one in dialog.fields if one.key == key.casefold()]
    return field


def test_a_trip_starts_on_a_new_water_and_is_looked_at(desk: Desk, new: TripDialog) -> None:
    steps = desk.steps()
    new.where.water.setCurrentText("Upper pond")
    new.where.line.setCurrentText("North bank")
    new.where.kind.setCurrentText("tidal")
    new.when.name.setText("Night one")
    new.when.day.setDate(QDate(2026, 8, 1))
    new.when.zone.setCurrentText("Europe/Oslo")
    new.rules.target.setCurrentText("Noble crayfish")
    new.verb.click()
    assert new.result() == QDialog.DialogCode.Accepted
    assert desk.steps() == steps + 1
    trip = desk.session.trip
    assert trip is not None
    assert (trip.name, trip.started_on, trip.zone) == ("Night one", "2026-08-01", "Europe/Oslo")
    assert (trip.min_gap_m, trip.max_gap_m) == (10.0, 50.0)
    water = desk.snapshot.water_of(trip)
    assert water is not None
    assert (water.name, water.kind) == ("Upper pond", "tidal")
    assert desk.snapshot.need(Line, trip.line_id).name == "North bank"
    (species,) = desk.snapshot.all(Species)
    assert (species.name, trip.target_species_id) == ("Noble crayfish", species.id)


# Common practice, no source: 1.5 m thrown from the shore, 10 m set apart, 30 m for pots.
@pytest.mark.parametrize(
    ("kind", "usual"),
    [("shore line", "1.50 m"), ("set apart", "10.0 m"), ("crab pots", "30.0 m"),
     ("string", "30.0 m")],
)  # fmt: skip
def test_the_usual_minimum_follows_the_kind_of_line(new: TripDialog, kind: str, usual: str) -> None:
    new.where.line_kind.setCurrentIndex(LINE_KINDS.index(kind))
    assert new.rules.min_gap.placeholderText().startswith(usual)
    assert new.rules.min_gap.text() == ""


def test_a_typed_gap_stays_when_the_kind_of_line_changes(desk: Desk, new: TripDialog) -> None:
    new.where.water.setCurrentText("Upper pond")
    new.rules.min_gap.setText("33 ft")
    new.where.line_kind.setCurrentIndex(LINE_KINDS.index("crab pots"))
    new.verb.click()
    trip = desk.session.trip
    assert trip is not None
    assert trip.min_gap_m == pytest.approx(10.0584)  # 33 × 0.3048, the foot of 1959
    assert trip.max_gap_m == 150.0


def test_the_usual_maximum_makes_room_for_a_typed_minimum(new: TripDialog) -> None:
    new.rules.min_gap.setText("60")
    new.rules.min_gap.textEdited.emit("60")
    assert new.rules.max_gap.placeholderText().startswith("300 m")
    new.rules.min_gap.setText("sixty")
    new.rules.min_gap.textEdited.emit("sixty")
    assert new.rules.max_gap.placeholderText().startswith("50.0 m")


@pytest.mark.parametrize(
    ("box", "text", "key"),
    [
        (lambda d: d.rules.min_gap, "ten", "Minimum gap"),
        (lambda d: d.rules.max_gap, "0", "Maximum gap"),
        (lambda d: d.rules.max_gap, "1,500", "Maximum gap"),
        (lambda d: d.when.name, "", "Name"),
        (lambda d: d.when.name, "first", "Name"),
        (lambda d: d.when.zone.lineEdit(), "Nowhere/Land", "Time zone"),
        (lambda d: d.where.water.lineEdit(), " ", "Water"),
        (lambda d: d.where.line.lineEdit(), "", "Line"),
    ],
)
def test_what_is_wrong_is_said_at_its_field_and_nothing_typed_is_lost(
    desk: Desk, new: TripDialog, box: Any, text: str, key: str
) -> None:
    before = desk.snapshot
    new.when.purpose.setText("kept")
    line: QLineEdit = box(new)
    line.setText(text)
    new.show()
    new.verb.click()
    assert new.isVisible()
    assert desk.snapshot == before
    field = at_field(new, key)
    assert field.wrong.isVisible()
    assert field.wrong.text()
    assert new.problem.isHidden()
    assert (line.text(), new.when.purpose.text()) == (text, "kept")
    line.setText("better")
    line.textEdited.emit("better")
    assert not field.wrong.isVisible()


def test_a_maximum_under_the_minimum_is_said(desk: Desk, new: TripDialog) -> None:
    new.rules.min_gap.setText("20")
    new.rules.max_gap.setText("10")
    new.show()
    new.verb.click()
    assert "less than the minimum" in at_field(new, "Maximum gap").wrong.text()


def test_the_current_is_where_the_water_flows_to(desk: Desk, new: TripDialog) -> None:
    new.where.water.setCurrentText("Upper pond")
    assert not new.current.speed.isEnabled()
    new.current.kind.setCurrentIndex(1)
    assert new.current.speed.isEnabled()
    new.current.speed.setText("20 cm/s")
    new.current.towards.setText("SW")
    new.verb.click()
    fished = desk.session.round
    assert fished is not None
    assert fished.current_m_s == pytest.approx(0.2)
    assert fished.current_to_deg == 225.0


@pytest.mark.parametrize(
    ("speed", "towards", "key"),
    [("fast", "N", "Current speed"), ("0.2", "up", "Current flows towards"),
     ("0.2", "", "Current flows towards"), ("9", "N", "Current speed")],
)  # fmt: skip
def test_half_a_current_is_refused(
    desk: Desk, new: TripDialog, speed: str, towards: str, key: str
) -> None:
    new.where.water.setCurrentText("Upper pond")
    new.current.kind.setCurrentIndex(1)
    new.current.speed.setText(speed)
    new.current.towards.setText(towards)
    new.show()
    new.verb.click()
    assert at_field(new, key).wrong.isVisible()
    assert len(desk.snapshot.trips()) == 1


def test_a_known_water_brings_its_kind_and_its_lines(desk: Desk, new: TripDialog) -> None:
    assert new.where.water.currentText() == "Mill pond"
    assert "7 places" in new.where.line_field.hint.text()
    new.where.water.setCurrentText("Upper pond")
    assert new.where.water_field.hint.text() == "a new water"
    assert new.where.line_field.hint.text() == "a new line"
    new.where.kind.setCurrentText("flowing")
    new.where.water.setCurrentText("mill POND")
    assert new.where.kind.currentText() == "still"
    new.where.line.setCurrentText("west bank")
    new.verb.click()
    assert len(desk.snapshot.all(Water)) == 1
    assert desk.session.round_id is not None
    assert len(desk.snapshot.sets(desk.session.round_id)) == 7


def test_what_is_changed_about_a_known_water_is_kept(desk: Desk, new: TripDialog) -> None:
    new.where.kind.setCurrentText("flowing")
    new.where.line_kind.setCurrentIndex(LINE_KINDS.index("string"))
    new.verb.click()
    assert desk.snapshot.need(Water, desk.water_id).kind == "flowing"
    assert desk.snapshot.need(Line, desk.line_id).kind == "string"


def test_a_known_species_is_not_made_twice(desk: Desk) -> None:
    from trapline.actions.editing import add

    desk.session.do(add, Species(name="Perch"))
    dialog = TripDialog(desk.session, None, new=True)
    desk.keep(dialog)
    dialog.rules.target.setCurrentText("PERCH")
    dialog.verb.click()
    assert len(desk.snapshot.all(Species)) == 1


def test_editing_shows_what_is_there_and_keeps_it_in_one_step(desk: Desk) -> None:
    desk.session.do(
        edit_trip, desk.trip_id, {"min_gap_m": 7.5, "max_gap_m": 50.0, "notes": "Rain"},
        round_id=desk.round_id, round_values={"current_m_s": 0.25, "current_to_deg": 90.0},
    )  # fmt: skip
    steps, dialog = desk.steps(), edit(desk)
    assert dialog.rules.min_gap.text() == "7.5 m"
    assert dialog.rules.max_gap.text() == ""  # the usual one of its kind of line
    assert dialog.when.notes.toPlainText() == "Rain"
    assert (dialog.current.speed.text(), dialog.current.towards.text()) == ("0.25 m/s", "90")
    assert not dialog.where.water.isEnabled()
    before = desk.snapshot
    dialog.verb.click()
    assert desk.snapshot == before  # nothing was typed, so nothing is changed
    assert desk.steps() == steps


def test_trip_round_and_water_are_changed_together(desk: Desk) -> None:
    steps, dialog = desk.steps(), edit(desk)
    assert dialog.round_card is not None
    dialog.when.name.setText("Renamed")
    dialog.where.kind.setCurrentText("tidal")
    dialog.current.kind.setCurrentIndex(1)
    dialog.current.speed.setText("0.4 kn")
    dialog.current.towards.setText("45")
    dialog.round_card.texts["crew"].setText("two")
    dialog.round_card.warmth.setText("12,5")
    dialog.round_card.high_water.setText("14:20")
    dialog.verb.click()
    assert desk.steps() == steps + 1
    fished = desk.round()
    assert (fished.crew, fished.water_temp_c) == ("two", 12.5)
    assert fished.high_water_utc == "2026-07-01T12:20:00Z"  # summer time in Oslo is UTC+2
    assert fished.current_m_s == pytest.approx(0.4 * 1852 / 3600)
    assert desk.trip().name == "Renamed"


def test_the_tide_is_asked_for_only_where_there_is_one(desk: Desk) -> None:
    dialog = edit(desk)
    assert dialog.round_card is not None
    assert all(widget.isHidden() for widget in dialog.round_card.tide)
    dialog.where.kind.setCurrentText("tidal")
    assert not any(widget.isHidden() for widget in dialog.round_card.tide)


def test_a_current_can_be_taken_away_again(desk: Desk) -> None:
    desk.session.do(edit_trip, desk.trip_id, {}, round_id=desk.round_id,
                    round_values={"current_m_s": 0.25, "current_to_deg": 90.0})  # fmt: skip
    dialog = edit(desk)
    dialog.current.kind.setCurrentIndex(0)
    dialog.verb.click()
    assert not desk.round().has_current


@pytest.mark.parametrize("text", ["25:00", "2026-03-29 02:30"])
def test_a_time_that_never_was_is_said_at_its_field(desk: Desk, text: str) -> None:
    dialog = edit(desk)
    assert dialog.round_card is not None
    dialog.where.kind.setCurrentText("tidal")
    dialog.round_card.high_water.setText(text)
    dialog.show()
    dialog.verb.click()
    assert at_field(dialog, "High water").wrong.isVisible()


def test_a_time_that_came_twice_is_asked_about(desk: Desk, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(which_time, "ask_which", lambda *_: True)
    dialog = edit(desk)
    assert dialog.round_card is not None
    dialog.where.kind.setCurrentText("tidal")
    dialog.round_card.high_water.setText("2026-10-25 02:30")
    dialog.verb.click()
    # The later 02:30 of that night in Oslo is standard time, UTC+1.
    assert desk.round().high_water_utc == "2026-10-25T01:30:00Z"


def test_a_day_that_is_not_known_stays_not_known(desk: Desk) -> None:
    desk.session.do(edit_trip, desk.trip_id, {"started_on": None})
    dialog = edit(desk)
    dialog.when.name.setText("Renamed")
    dialog.verb.click()
    assert desk.trip().started_on is None


def test_a_new_trip_from_this_one_is_looked_at(desk: Desk) -> None:
    desk.set_all()
    desk.session.look_again()
    dialog = NextTripDialog(desk.session, None)
    desk.keep(dialog)
    assert dialog.name.text() == "Trip 2"
    dialog.name.setText("Second")
    dialog.day.setDate(QDate(2026, 8, 1))
    dialog.verb.click()
    trip = desk.session.trip
    assert trip is not None
    assert (trip.name, trip.started_on) == ("Second", "2026-08-01")


def test_a_new_trip_needs_a_name_of_its_own(desk: Desk) -> None:
    dialog = NextTripDialog(desk.session, None)
    desk.keep(dialog)
    dialog.show()
    dialog.name.setText("first")
    dialog.verb.click()
    assert at_field(dialog, "Name").wrong.isVisible()
    assert len(desk.snapshot.all(Trip)) == 1


def test_the_proposed_name_is_free(desk: Desk) -> None:
    desk.session.do(edit_trip, desk.trip_id, {"name": "trip 2"})
    assert free_name(desk.snapshot) == "Trip 3"


@pytest.mark.parametrize("answer", [True, False])
def test_asking_says_whether_anything_was_done(
    desk: Desk, monkeypatch: pytest.MonkeyPatch, answer: bool
) -> None:
    code = QDialog.DialogCode.Accepted if answer else QDialog.DialogCode.Rejected
    monkeypatch.setattr(QDialog, "exec", lambda self: code)
    assert TripDialog.ask(desk.session, None, new=True) is answer
    assert NextTripDialog.ask(desk.session, None) is answer
