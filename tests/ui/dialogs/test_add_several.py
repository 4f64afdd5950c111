"""Add several places: five ways, said while they are typed."""

import pytest

from tests.ui.dialogs.conftest import Desk
from trapline.model.line import Place
from trapline.ui.dialogs.add_several import AddSeveralDialog


@pytest.fixture
def dialog(desk: Desk) -> AddSeveralDialog:
    made = AddSeveralDialog(desk.session)
    desk.keep(made)
    made.show()
    return made


def new_labels(desk: Desk) -> list[str]:
    return [place.label for place in desk.snapshot.places(desk.line_id)[7:]]


def test_places_along_a_line_are_said_and_added_in_one_step(
    desk: Desk, dialog: AddSeveralDialog
) -> None:
    steps = desk.steps()
    dialog.along_from.setCurrentText("P7")
    dialog.along_to.setCurrentText("60.0, 10.01")
    dialog.spacing.setText("12 m")
    dialog.n.setText("4")
    assert dialog.preview.text() == "4 places, 12.0 m apart, 36.0 m in all: P8 to P11."
    assert dialog.verb.text() == "Add 4 places"
    dialog.verb.click()
    assert desk.steps() == steps + 1
    assert new_labels(desk) == ["P8", "P9", "P10", "P11"]
    assert len(desk.snapshot.sets(desk.round_id)) == 11
    assert len(desk.session.selection) == 4


def test_as_many_as_fit_with_no_number(dialog: AddSeveralDialog) -> None:
    dialog.along_from.setCurrentText("60, 10.1")
    dialog.along_to.setCurrentText("60, 10.101")
    dialog.spacing.setText("20 m")
    dialog.n.setText("")
    assert dialog.preview.text().startswith("3 places")
    dialog.along_kind.setCurrentIndex(1)
    dialog.along_bearing.setText("E")
    assert dialog.preview.text() == "Nothing to add yet."
    dialog.n.setText("2")
    assert dialog.preview.text().startswith("2 places, 20.0 m apart")


def test_places_closer_than_the_minimum_gap_are_warned_of_and_still_allowed(
    desk: Desk, dialog: AddSeveralDialog
) -> None:
    dialog.along_from.setCurrentText("P7")
    dialog.along_to.setCurrentText("60.0, 10.01")
    dialog.spacing.setText("5 ft")
    assert dialog.warning.text() == "That is closer than the minimum gap of 10.0 m."
    dialog.verb.click()
    assert len(new_labels(desk)) == 5


def test_pots_hang_on_a_string(desk: Desk, dialog: AddSeveralDialog) -> None:
    dialog.way.setCurrentIndex(1)
    dialog.end_a.setCurrentText("60, 10.1")
    dialog.end_b.setCurrentText("60, 10.102")
    dialog.n.setText("3")
    dialog.first.setText("S1")
    assert dialog.preview.text().startswith("3 places, 55.8 m apart, 112 m in all: S1 to S3")
    dialog.at_ends.setChecked(False)
    assert dialog.preview.text().startswith("3 places, 27.9 m apart")
    dialog.verb.click()
    assert new_labels(desk) == ["S1", "S2", "S3"]
    assert {place.fix for place in desk.snapshot.places(desk.line_id)[7:]} == {"along the line"}


def test_places_are_measured_from_a_new_stake(desk: Desk, dialog: AddSeveralDialog) -> None:
    steps = desk.steps()
    dialog.way.setCurrentIndex(2)
    dialog.origin.setCurrentIndex(dialog.origin.count() - 1)
    dialog.stake_name.setText("Old pier")
    dialog.stake_at.setText("60.002, 10.001")
    dialog.rope_bearing.setText("S")
    dialog.rope_first.setText("11 yd")
    dialog.rope_step.setText("5")
    dialog.n.setText("2")
    dialog.verb.click()
    assert desk.steps() == steps + 1
    stake = desk.place("Old pier")
    assert stake.is_stake
    rope = [place.rope_m for place in desk.snapshot.places(desk.line_id)[7:]]
    assert rope == pytest.approx([10.0584, 15.0584])  # 11 × 0.9144, the yard of 1959
    assert {place.from_place_id for place in desk.snapshot.places(desk.line_id)[7:]} == {stake.id}
    assert len(desk.snapshot.sets(desk.round_id)) == 9


def test_places_are_measured_from_a_place_that_is_there(
    desk: Desk, dialog: AddSeveralDialog
) -> None:
    dialog.way.setCurrentIndex(2)
    dialog.origin.setCurrentIndex(0)
    assert dialog.stake_name.isHidden() or not dialog.stake_name.isVisible()
    dialog.rope_bearing.setText("180")
    dialog.n.setText("1")
    dialog.rope_step.setText("nothing")  # not read for a single place
    dialog.verb.click()
    assert desk.place("P8").from_place_id == desk.place("P1").id


def test_places_without_a_position_and_one_that_is_typed(
    desk: Desk, dialog: AddSeveralDialog
) -> None:
    dialog.way.setCurrentIndex(3)
    dialog.n.setText("2")
    dialog.verb.click()
    assert [desk.place(label).has_position for label in ("P8", "P9")] == [False, False]
    again = AddSeveralDialog(desk.session)
    desk.keep(again)
    again.way.setCurrentIndex(4)
    again.typed.setText("60.5, 10.5")
    again.verb.click()
    assert (desk.place("P10").lon_deg, desk.place("P10").fix) == (10.5, "typed")


@pytest.mark.parametrize(
    ("way", "typed", "key"),
    [
        (0, {}, "from"),
        (0, {"along_from": "P1", "along_to": "somewhere"}, "towards"),
        (0, {"along_from": "P1", "along_to": "P1"}, "towards"),
        (0, {"along_from": "P1", "along_to": "P2", "spacing": "0"}, "spacing"),
        (0, {"along_from": "P1", "along_to": "P2", "n": "many"}, "how many"),
        (0, {"along_from": "P1", "along_to": "60, 11", "n": "1001"}, "how many"),
        (0, {"along_from": "P1", "along_to": "60, 11", "first": ""}, "place"),
        (0, {"along_from": "P1", "along_to": "60, 11", "first": "p3"}, "place"),
        (1, {"end_a": "P1"}, "end b"),
        (1, {"end_a": "P1", "end_b": "P7", "n": "1"}, "how many"),
        (2, {}, "bearing of the rope"),
        (2, {"rope_bearing": "N", "rope_first": "long"}, "rope to the first"),
        (4, {"typed": "95, 10"}, "position"),
    ],
)
def test_what_is_missing_is_said_at_its_field_and_nothing_is_lost(
    desk: Desk, dialog: AddSeveralDialog, way: int, typed: dict[str, str], key: str
) -> None:
    before = desk.snapshot
    dialog.way.setCurrentIndex(way)
    for name, text in typed.items():
        box = getattr(dialog, name)
        (box.setCurrentText if hasattr(box, "setCurrentText") else box.setText)(text)
    assert dialog.preview.text() == "Nothing to add yet."
    dialog.verb.click()
    assert dialog.isVisible()
    wrong = [field.key for field in dialog.fields if field.wrong.isVisible()]
    assert wrong == [key]
    assert desk.snapshot == before


def test_a_stake_needs_its_position(desk: Desk, dialog: AddSeveralDialog) -> None:
    dialog.way.setCurrentIndex(2)
    dialog.origin.setCurrentIndex(dialog.origin.count() - 1)
    dialog.verb.click()
    assert [field.key for field in dialog.fields if field.wrong.isVisible()] == [
        "position of the stake"
    ]


def test_it_begins_at_the_selected_place(desk: Desk) -> None:
    desk.session.select((desk.place("P4").id,))
    dialog = AddSeveralDialog(desk.session)
    desk.keep(dialog)
    assert dialog.along_from.currentText() == "P4"
    assert dialog.origin.currentText() == "P4"


def test_an_empty_line_can_begin_with_a_stake(desk: Desk) -> None:
    from trapline.actions.places import delete_places

    desk.session.do(delete_places, [place.id for place in desk.snapshot.all(Place)])
    dialog = AddSeveralDialog(desk.session)
    desk.keep(dialog)
    dialog.way.setCurrentIndex(2)
    dialog.stake_at.setText("60, 10")
    dialog.rope_bearing.setText("0")
    assert dialog.preview.text().endswith("P1 to P5.")
