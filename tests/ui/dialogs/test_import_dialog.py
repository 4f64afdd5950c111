"""The preview of an import: what is said, what can be chosen, what comes in."""

from pathlib import Path

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QDialog, QFileDialog, QLabel

from tests.ui.dialogs.conftest import Desk
from trapline.errors import TraplineError
from trapline.exchange.places_file import read_places
from trapline.model.line import Place
from trapline.model.water import Water
from trapline.ui.dialogs.import_dialog import ImportDialog

TABLE = """name;lat;lon;depth;note
P3;60,0000001;10,0006;1,5;here already
P5;60,001;10,003;;far from the other
A;60,0005;10,001;2;
B;;;;
C;95;10;;
D;60;;;
"""
POINTS = ((60.0, 10.0), (60.0, 10.01), (60.01, 10.01), (60.01, 10.0))
GPX = (
    '<?xml version="1.0"?><gpx xmlns="http://www.topografix.com/GPX/1/1" version="1.1"'
    ' creator="a receiver"><wpt lat="60.001" lon="10.001"><name>WPT &amp; 7</name></wpt>'
    "<trk><name>Shore</name><trkseg>"
    + "".join(f'<trkpt lat="{lat}" lon="{lon}"/>' for lat, lon in POINTS)
    + "</trkseg></trk></gpx>"
)


def preview(desk: Desk, text: str = TABLE, name: str = "places.csv") -> ImportDialog:
    dialog = ImportDialog(desk.session, read_places(text.encode(), name))
    desk.keep(dialog)
    return dialog


def cells(dialog: ImportDialog) -> list[list[str]]:
    grid = dialog.table.grid
    return [[column.read(row) for column in grid.columns] for row in grid.rows]


def said(dialog: ImportDialog) -> str:
    return "\n".join(label.text() for label in dialog.findChildren(QLabel))


def test_it_says_how_many_rows_were_understood_and_what_was_read_as_what(desk: Desk) -> None:
    text = said(preview(desk))
    assert "4 of 6 rows understood." in text
    assert "“lat” as latitude" in text
    assert "“depth” as depth" in text
    assert "line “West bank”, round 1" in text


def test_each_place_is_shown_with_its_nearest_and_what_to_do(desk: Desk) -> None:
    rows = cells(preview(desk))
    assert [row[0] for row in rows] == ["skip", "import under a new name", "import", "import"]
    assert [row[1] for row in rows] == ["P3", "P5 → P5 2", "A", "B"]
    assert rows[0][2] == "60.000000, 10.000600"
    assert rows[0][3] == "0.01 m  P3"
    assert rows[0][4] == "name taken, 0.01 m away"
    assert rows[3][2:] == ["", "", "without a position"]


def test_rows_that_were_not_understood_are_listed_with_why(desk: Desk) -> None:
    grid = preview(desk).refused.grid
    rows = [[column.read(row) for column in grid.columns] for row in grid.rows]
    assert [row[0] for row in rows] == ["line 6", "line 7"]
    assert "95" in rows[0][2]
    assert "longitude is empty" in rows[1][2]


def test_the_button_says_what_it_will_do_and_does_it_in_one_step(desk: Desk) -> None:
    dialog, steps = preview(desk), desk.steps()
    assert dialog.verb.text() == "Import 3 places"
    dialog.verb.click()
    assert desk.steps() == steps + 1
    new = desk.snapshot.places(desk.line_id)[7:]
    assert [place.label for place in new] == ["P5 2", "A", "B"]
    assert [place.fix for place in new] == ["typed", "typed", "not fixed"]
    assert desk.session.selection == tuple(place.id for place in new)
    assert len(desk.snapshot.sets(desk.round_id)) == 10


def test_what_to_do_can_be_changed_row_by_row(desk: Desk) -> None:
    dialog = preview(desk)
    grid = dialog.table.grid
    assert grid.columns[0].choices is not None
    assert grid.columns[0].choices(grid.rows[0]) == ("skip", "import under a new name")
    assert grid.setData(grid.index(0, 0), "import under a new name", Qt.ItemDataRole.EditRole)
    assert grid.setData(grid.index(2, 0), "skip", Qt.ItemDataRole.EditRole)
    assert [row.label for row in dialog.chosen()] == ["P3 2", "P5 2", "B"]
    assert dialog.verb.text() == "Import 3 places"


def test_an_existing_place_cannot_be_overwritten(desk: Desk) -> None:
    dialog = preview(desk)
    dialog.show()
    grid = dialog.table.grid
    assert not grid.setData(grid.index(0, 0), "import over it", Qt.ItemDataRole.EditRole)
    assert "'skip' or 'import under a new name'" in dialog.problem.text()
    assert dialog.problem.isVisible()
    assert grid.rows[0].treatment == "skip"


def test_with_nothing_chosen_there_is_nothing_to_press(desk: Desk) -> None:
    dialog = preview(desk, "name,lat,lon\nP3,60,10.0006\n")
    assert dialog.verb.text() == "Import 0 places"
    assert not dialog.verb.isEnabled()


def test_a_track_may_become_the_shoreline(desk: Desk) -> None:
    dialog = preview(desk, GPX, "unit.gpx")
    assert "Mill pond" in dialog.shore_tick.text()
    assert not dialog.shore_tick.isChecked()
    dialog.shore_tick.setChecked(True)
    assert dialog.verb.text() == "Import 1 place and the shoreline"
    dialog.verb.click()
    ring = desk.snapshot.need(Water, desk.water_id).shoreline
    assert ring == tuple((lon, lat) for lat, lon in (*POINTS, POINTS[0]))
    assert desk.snapshot.places(desk.line_id)[-1].label == "WPT & 7"
    assert desk.snapshot.places(desk.line_id)[-1].fix == "GPS"


def test_a_track_is_not_taken_unless_it_is_ticked(desk: Desk) -> None:
    dialog = preview(desk, GPX, "unit.gpx")
    dialog.verb.click()
    assert desk.snapshot.need(Water, desk.water_id).shoreline == ()


def test_the_map_shows_what_will_be_there(desk: Desk) -> None:
    dialog = preview(desk, GPX, "unit.gpx")
    content = dialog.canvas.picture.content
    assert content.labels[-1] == "WPT & 7"
    assert len(content.labels) == 8
    assert not content.shorelines
    dialog.shore_tick.setChecked(True)
    assert len(dialog.canvas.picture.content.shorelines) == 1
    assert not dialog.canvas.is_editable


def test_a_refused_import_stays_open(desk: Desk) -> None:
    dialog = preview(desk)
    dialog.show()
    # Another program took the name meanwhile.
    with desk.project.change("Elsewhere") as change:
        change.insert(Place(label="A", line_id=desk.line_id, ordinal=99))
    before = desk.snapshot
    dialog.verb.click()
    assert dialog.isVisible()
    assert "'A'" in dialog.problem.text()
    assert desk.snapshot == before


def test_markup_in_a_file_is_shown_as_it_is(desk: Desk) -> None:
    dialog = preview(desk, "name,lat,lon\n<b>x</b>,60.01,10.01\n", "<i>file</i>.csv")
    assert cells(dialog)[0][1] == "<b>x</b>"
    assert dialog.windowTitle().endswith("<i>file</i>.csv")


def test_asking_takes_a_dropped_file_or_asks_for_one(
    desk: Desk, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "unit.gpx"
    path.write_text(GPX)
    asked = []

    def choose(*_: object) -> tuple[str, str]:
        asked.append(1)
        return str(path), ""

    monkeypatch.setattr(QFileDialog, "getOpenFileName", choose)
    monkeypatch.setattr(QDialog, "exec", lambda self: self.verb.click() or self.result())
    assert ImportDialog.ask(desk.session, None, path)
    assert not asked
    desk.session.undo()
    assert ImportDialog.ask(desk.session, None)
    assert asked
    assert desk.snapshot.places(desk.line_id)[-1].label == "WPT & 7"


def test_giving_up_and_bad_files_change_nothing(
    desk: Desk, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    before, problems = desk.snapshot, []
    desk.session.failed.connect(problems.append)
    monkeypatch.setattr(QFileDialog, "getOpenFileName", lambda *_: ("", ""))
    assert not ImportDialog.ask(desk.session, None)
    assert problems == []
    path = tmp_path / "empty.gpx"
    path.write_bytes(b"")
    assert not ImportDialog.ask(desk.session, None, path)
    assert isinstance(problems[0], TraplineError)
    assert "empty.gpx" in problems[0].where
    assert not ImportDialog.ask(desk.session, None, tmp_path / "nowhere.csv")
    assert desk.snapshot == before
