"""One place, all its fields, in one step."""

import pytest
from geographiclib.geodesic import Geodesic

from tests.ui.dialogs.conftest import Desk
from trapline.model.line import FIXES
from trapline.ui.dialogs.place_dialog import PlaceDialog


def opened(desk: Desk, label: str = "P3") -> PlaceDialog:
    dialog = PlaceDialog(desk.session, desk.place(label))
    desk.keep(dialog)
    dialog.show()
    return dialog


def wrong_in(dialog: PlaceDialog) -> list[str]:
    return [field.key for field in dialog.fields if field.wrong.isVisible()]


def test_untouched_it_changes_nothing(desk: Desk) -> None:
    before, steps = desk.snapshot, desk.steps()
    opened(desk).verb.click()
    assert desk.snapshot == before
    assert desk.steps() == steps


def test_all_fields_are_kept_in_one_step(desk: Desk) -> None:
    steps, dialog = desk.steps(), opened(desk)
    dialog.label.setText("Alder")
    dialog.depth_m.setText("5 ft")
    dialog.bottom.setText("stones")
    dialog.notes.setPlainText("under\nthe alder")
    dialog.accuracy.setText("3")
    dialog.verb.click()
    assert desk.steps() == steps + 1
    place = desk.place("Alder")
    assert place.depth_m == pytest.approx(1.524)  # 5 × 0.3048, the foot of 1959
    assert (place.bottom, place.notes, place.accuracy_m) == ("stones", "under\nthe alder", 3.0)


def test_a_position_is_kept_to_the_last_digit_unless_it_is_typed(desk: Desk) -> None:
    from trapline.actions.places import move_place

    place = desk.place("P3")
    desk.session.do(move_place, place.id, 10.000600012345, 60.000000012345)
    dialog = opened(desk)
    dialog.bottom.setText("mud")
    dialog.verb.click()
    assert desk.place("P3").lon_deg == 10.000600012345
    dialog = opened(desk)
    dialog.position.setText("60.5 N, 10.5 E")
    dialog.position.textEdited.emit("")
    dialog.verb.click()
    assert (desk.place("P3").lat_deg, desk.place("P3").lon_deg) == (60.5, 10.5)
    assert desk.place("P3").fix == "typed"


def test_a_place_is_fixed_anew_by_rope(desk: Desk) -> None:
    dialog = opened(desk)
    dialog.fix.setCurrentIndex(FIXES.index("rope and bearing"))
    assert dialog.rope.isVisible()
    assert not dialog.position.isVisible()
    assert "P3" not in [dialog.origin.itemText(n) for n in range(dialog.origin.count())]
    dialog.origin.setCurrentText("P1")
    dialog.rope.setText("12 m")
    dialog.bearing.setText("NE")
    dialog.verb.click()
    place, origin = desk.place("P3"), desk.place("P1")
    wanted = Geodesic.WGS84.Direct(origin.lat_deg, origin.lon_deg, 45.0, 12.0)
    assert (place.lat_deg, place.lon_deg) == pytest.approx((wanted["lat2"], wanted["lon2"]), 1e-12)
    again = opened(desk)
    assert (again.rope.text(), again.bearing.text()) == ("12 m", "45")
    assert again.origin.currentText() == "P1"


def test_a_position_can_be_given_up(desk: Desk) -> None:
    dialog = opened(desk)
    dialog.fix.setCurrentIndex(FIXES.index("not fixed"))
    assert not dialog.position.isVisible()
    dialog.verb.click()
    assert not desk.place("P3").has_position


@pytest.mark.parametrize(
    ("box", "text", "fix", "key"),
    [
        ("label", "P4", "GPS", "place"),
        ("label", "", "GPS", "place"),
        ("depth_m", "deep", "GPS", "depth"),
        ("depth_m", "-1", "GPS", "depth"),
        ("position", "60.5", "GPS", "position"),
        ("position", "", "GPS", "position"),
        ("accuracy", "good", "GPS", "accuracy"),
        ("rope", "", "rope and bearing", "rope"),
        ("bearing", "up", "rope and bearing", "bearing"),
    ],
)
def test_what_is_wrong_is_said_at_its_field(
    desk: Desk, box: str, text: str, fix: str, key: str
) -> None:
    before, dialog = desk.snapshot, opened(desk)
    dialog.fix.setCurrentIndex(FIXES.index(fix))
    dialog.rope.setText("5")
    dialog.bearing.setText("0")
    getattr(dialog, box).setText(text)
    dialog.verb.click()
    assert dialog.isVisible()
    assert wrong_in(dialog) == [key]
    assert getattr(dialog, box).text() == text
    assert desk.snapshot == before


def test_a_fished_place_does_not_become_a_stake(desk: Desk) -> None:
    dialog = opened(desk)
    dialog.stake.setChecked(True)
    dialog.verb.click()
    assert dialog.isVisible()
    assert "not fished" in dialog.problem.text()
