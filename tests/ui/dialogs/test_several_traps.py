"""Several traps at once."""

import pytest

from tests.ui.dialogs.conftest import Desk
from trapline.errors import InvalidValue
from trapline.model.trap import Trap
from trapline.ui.dialogs.several_traps import SeveralTrapsDialog, numbers_in


@pytest.mark.parametrize(
    ("text", "numbers"),
    [
        ("1–3", ["1", "2", "3"]),
        ("1-3", ["1", "2", "3"]),
        ("9 to 11", ["9", "10", "11"]),
        ("A01–A03", ["A01", "A02", "A03"]),
        ("08-10", ["08", "09", "10"]),
        ("3, 5; 8-9", ["3", "5", "8", "9"]),
        ("red 1, blue", ["red 1", "blue"]),
    ],
)
def test_numbers_are_read_as_they_are_typed(text: str, numbers: list[str]) -> None:
    assert numbers_in(text) == numbers


@pytest.mark.parametrize("text", ["", " , ", "9-3", "1-501", "1-999999999"])
def test_no_numbers_or_too_many_are_refused(text: str) -> None:
    with pytest.raises(InvalidValue) as caught:
        numbers_in(text)
    assert caught.value.where == "Numbers"


@pytest.fixture
def dialog(desk: Desk) -> SeveralTrapsDialog:
    made = SeveralTrapsDialog(desk.session)
    desk.keep(made)
    made.show()
    return made


def test_they_are_added_in_one_step_alike(desk: Desk, dialog: SeveralTrapsDialog) -> None:
    steps = desk.steps()
    assert dialog.numbers.text() == "11–20"
    dialog.numbers.setText("A1–A3")
    assert dialog.verb.text() == "Add 3 traps"
    dialog.boxes["kind"].setText("funnel")
    dialog.boxes["mesh_mm"].setText("12,5")
    dialog.verb.click()
    assert desk.steps() == steps + 1
    traps = desk.snapshot.all(Trap)[10:]
    assert [trap.number for trap in traps] == ["A1", "A2", "A3"]
    assert {(trap.kind, trap.mesh_mm) for trap in traps} == {("funnel", 12.5)}


@pytest.mark.parametrize(
    ("box", "text", "key"),
    [("", "7-12", "numbers"), ("", "", "numbers"), ("entrance_mm", "wide", "entrance"),
     ("mesh_mm", "-1", "mesh"), ("escape_mm", "0", "escape opening")],
)  # fmt: skip
def test_what_is_wrong_is_said_at_its_field(
    desk: Desk, dialog: SeveralTrapsDialog, box: str, text: str, key: str
) -> None:
    before = desk.snapshot
    (dialog.boxes[box] if box else dialog.numbers).setText(text)
    dialog.verb.click()
    assert dialog.isVisible()
    assert [field.key for field in dialog.fields if field.wrong.isVisible()] == [key]
    assert desk.snapshot == before
