from pathlib import Path

import pytest

from tests.made_trips import make_trip, write_project
from trapline.actions.places import move_place
from trapline.errors import Conflict
from trapline.model.line import Place
from trapline.store.past_steps import changes_of
from trapline.store.project import Project


def test_a_line_of_the_history_says_what_it_did_also_after_it_was_undone(tmp_path: Path) -> None:
    with Project.open(write_project(make_trip(2), tmp_path / "t.gpkg")) as project:
        done = move_place(project, "place-0", 7.5, 45.5)
        number = project.history(1)[0].step
        assert changes_of(project, number) == done

        project.undo()
        (row,) = changes_of(project, number).rows
        assert isinstance(row.after, Place)
        assert row.after.lon_deg == 7.5


def test_a_line_that_is_not_there_is_refused(tmp_path: Path) -> None:
    with (
        Project.open(write_project(make_trip(1), tmp_path / "t.gpkg")) as project,
        pytest.raises(Conflict, match="no step 99"),
    ):
        changes_of(project, 99)
