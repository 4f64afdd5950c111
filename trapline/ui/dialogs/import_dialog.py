"""Import places: what was understood, what not and why, and what will become of each."""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from PySide6.QtWidgets import (
    QCheckBox,
    QComboBox,
    QFileDialog,
    QHBoxLayout,
    QSizePolicy,
    QWidget,
)

from trapline.actions.importing import fix_of, import_places
from trapline.analyses.import_preview import RENAME, Arrival, chosen_places, preview_import
from trapline.drawing.map_builder import build_map
from trapline.drawing.map_content import MapContent
from trapline.errors import InvalidValue, TraplineError
from trapline.exchange.files import read_bytes, shown
from trapline.exchange.found import FoundPlace, FoundPlaces, Refused, Track
from trapline.exchange.places_file import read_places
from trapline.model.fields import Noun
from trapline.model.line import Line, Place
from trapline.model.water import Water
from trapline.science.coordinates import position_text
from trapline.ui.dialogs.card_dialog import Card, CardDialog, choose, plain_label
from trapline.ui.map.canvas import MapCanvas
from trapline.ui.session import Session
from trapline.ui.tables.grid import Column, GridView
from trapline.units import length_text

FILES = "Places (*.gpx *.csv *.tsv *.txt);;All files (*)"
_ROLES = {
    "label": "name", "latitude": "latitude", "longitude": "longitude", "position": "position",
    "depth": "depth", "note": "note",
}  # fmt: skip


@dataclass
class _Row:
    """An arrival with what the user wants done with it."""

    arrival: Arrival
    treatment: str


class ImportDialog(CardDialog):
    """The places of one file before they come into the trip's line; nothing is overwritten."""

    def __init__(self, session: Session, found: FoundPlaces, parent: QWidget | None = None) -> None:
        super().__init__(session, f"Import places: {shown(found.source)}", "Import", parent)
        self.found = found
        line = session.line
        assert line is not None
        self.line: Line = line
        arrivals = preview_import(session.snapshot, line.id, found.places)
        self.rows = [_Row(one, one.treatment) for one in arrivals]
        self.shore_tick = QCheckBox(self)
        self.shore_track = QComboBox(self)
        self.canvas = MapCanvas()
        self.table = GridView(self._columns(), "Places in the file", self)
        self.refused = GridView(_refused_columns(), "Rows that were not understood", self)
        self._arrange()
        self.table.show_rows(self.rows)
        self.table.grid.refused.connect(self.say)
        self.refused.show_rows(found.refused)
        self.shore_tick.toggled.connect(self._show_what_comes)
        self.shore_track.currentIndexChanged.connect(self._show_what_comes)
        self._show_what_comes()
        self.resize(self.fontMetrics().averageCharWidth() * 190, 0)  # with large letters wider

    @staticmethod
    def ask(session: Session, parent: QWidget | None, path: Path | None = None) -> bool:
        """Ask for a file unless one was dropped, preview it, and import it; True when done."""
        if session.line is None:
            return False
        if path is None:
            name, _ = QFileDialog.getOpenFileName(parent, "Import places", "", FILES)
            if not name:
                return False
            path = Path(name)
        try:
            found = read_places(read_bytes(path), path.name)
        except TraplineError as problem:
            session.failed.emit(problem)
            return False
        dialog = ImportDialog(session, found, parent)
        done = dialog.exec() == CardDialog.DialogCode.Accepted
        dialog.deleteLater()
        return done

    def perform(self) -> None:
        """Import what was chosen, in one step, and select it."""
        changes = self.session.do_or_raise(
            import_places,
            self.line.id,
            self.session.round_id,
            self.chosen(),
            fix=fix_of(self.found),
            shoreline=self.shoreline(),
        )
        self.session.select(tuple(row.id for row in changes.rows if row.table == "place"))

    def chosen(self) -> tuple[FoundPlace, ...]:
        """Return the places that will be imported, under the names they will have."""
        treatments = {number: row.treatment for number, row in enumerate(self.rows)}
        return chosen_places((row.arrival for row in self.rows), treatments)

    def shoreline(self) -> Track | None:
        """Return the track that will be the shoreline, or None."""
        track = self.shore_track.currentData() if self.shore_tick.isChecked() else None
        return track if isinstance(track, Track) else None

    # Making

    def _arrange(self) -> None:
        water = self.session.snapshot.get(Water, self.line.water_id)
        number = f", round {self.session.round.number}" if self.session.round else ""
        about = Card("", columns=1)
        about.add(plain_label(f"{self.found.sentence()}.", "heading"))
        about.add(plain_label(f"{self._read_as()} They come into line “{self.line.name}”{number}."))
        self.shore_tick.setVisible(bool(self.found.tracks))
        self.shore_track.setVisible(bool(self.found.tracks))
        if self.found.tracks:
            row = QHBoxLayout()
            name = water.name if water else "the water"
            self.shore_tick.setText(f"Use this &track as the shoreline of {_escaped(name)}:")
            tracks = [
                (f"{track.name} ({len(track.lon_deg)} points)", track)
                for track in self.found.tracks
            ]
            choose(self.shore_track, list(tracks))
            self.shore_track.setAccessibleName("Track for the shoreline")
            row.addWidget(self.shore_tick)
            row.addWidget(self.shore_track)
            row.addStretch(1)
            about.body.addLayout(row)
        places = Card("", columns=1)
        places.setSizePolicy(QSizePolicy.Policy.Preferred, QSizePolicy.Policy.Expanding)
        self.table.setMinimumSize(740, 150)
        if self.rows:
            how = "To skip a place or rename it, press F2 or click twice in the first column."
            places.body.addWidget(plain_label(how, "note"))
        self.table.setVisible(bool(self.rows))
        places.body.addWidget(self.table, 2)
        if self.found.refused:
            places.body.addWidget(plain_label("Not understood", "heading"))
            self.refused.setMinimumHeight(90)
            places.body.addWidget(self.refused, 1)
        else:
            self.refused.hide()
        self.canvas.set_locator(True)
        self.canvas.setMinimumSize(330, 260)
        self.canvas.setAccessibleName("Map of what will be imported")
        self.canvas.set_theme(self.theme)
        self.column(about, places)
        self.column(self.canvas, stretch=0)

    def _read_as(self) -> str:
        """Return which header was read as what."""
        read = ", ".join(
            f"“{shown(header)}” as {_ROLES.get(role, role)}"
            for header, role in self.found.columns.items()
        )
        return f"{self.found.format}: {read}." if read else f"{self.found.format}."

    def _columns(self) -> list[Column]:
        def mark(row: _Row) -> str:
            return "warning" if row.arrival.remark else ""

        def nearest(row: _Row) -> str:
            arrival = row.arrival
            if arrival.nearest_m is None:
                return ""
            return f"{length_text(arrival.nearest_m)}  {arrival.nearest}"

        return [
            Column(
                "What to do", lambda row: row.treatment, self._write_treatment,
                choices=lambda row: row.arrival.treatments,
            ),
            Column("Name", _name),
            Column("Latitude, longitude", _position),
            Column("Nearest place", nearest),
            Column("Remark", lambda row: row.arrival.remark, mark=mark, stretch=True,
                   tip=lambda row: row.arrival.remark),
        ]  # fmt: skip

    def _write_treatment(self, row: _Row, text: str) -> None:
        wanted = text.strip().casefold()
        known = [one for one in row.arrival.treatments if one.startswith(wanted) and wanted]
        if not known:
            words = " or ".join(f"'{one}'" for one in row.arrival.treatments)
            raise InvalidValue(
                f"'{text}' is not what can be done with '{row.arrival.found.label}'.",
                row.arrival.found.label,
                f"Choose {words}.",
            )
        row.treatment = known[0]
        self.clear()
        self.table.show_rows(self.rows)
        self._show_what_comes()

    def _show_what_comes(self) -> None:
        """Say on the button what will be done, and show it on the map."""
        chosen, shore = self.chosen(), self.shoreline()
        places = f"{len(chosen)} place{'' if len(chosen) == 1 else 's'}"
        words = [places] if chosen or shore is None else []
        words += ["the shoreline"] if shore else []
        self.verb.setText(f"Import {' and '.join(words)}")
        self.verb.setEnabled(bool(chosen) or shore is not None)
        rows: list[Noun] = [
            Place(label=one.label, lon_deg=one.lon_deg, lat_deg=one.lat_deg, line_id=self.line.id,
                  ordinal=1_000_000 + number)
            for number, one in enumerate(chosen)
        ]  # fmt: skip
        new = [row.id for row in rows]
        water = self.session.snapshot.get(Water, self.line.water_id)
        if water is not None and shore is not None:
            points = zip(shore.lon_deg, shore.lat_deg, strict=True)
            rows.append(water.with_(shoreline=tuple(points)))
        after = self.session.snapshot.with_rows(rows)
        content = build_map(after, self.session.round_id, line_id=self.line.id)
        self.canvas.set_content(content)
        self.canvas.set_selected(new if len(new) < len(after.places(self.line.id)) else ())
        self.canvas.fit()
        if shore is not None:
            self.canvas.zoom(1.0 / _times_wider(content))


def _times_wider(content: MapContent) -> float:
    """Return how many times more a map has to show so that the shore is on it, at most 50."""
    extent = content.extent()
    if extent is None or not content.shorelines:
        return 1.0
    west, south, east, north = extent
    middle = ((west + east) / 2, (south + north) / 2)
    half = max(east - west, north - south, 1.0) / 2
    reach = max(float(abs(ring - middle).max()) for ring in content.shorelines)
    return min(max(1.0, reach / half), 50.0)


def _escaped(text: str) -> str:
    return text.replace("&", "&&")


def _name(row: _Row) -> str:
    arrival = row.arrival
    renamed = row.treatment == RENAME
    return f"{arrival.found.label} → {arrival.new_label}" if renamed else arrival.found.label


def _position(row: _Row) -> str:
    found = row.arrival.found
    if found.lon_deg is None or found.lat_deg is None:
        return ""
    return position_text(found.lon_deg, found.lat_deg)


def _refused_columns() -> Sequence[Column]:
    def where(row: Refused) -> str:
        return row.where.partition(", ")[2] or row.where

    return [
        Column("Where", where),
        Column("It says", lambda row: row.text, width=160),
        Column(
            "Why not, and what to do", lambda row: f"{row.why} {row.what_to_do}", stretch=True,
            mark=lambda _: "error", tip=lambda row: f"{row.why} {row.what_to_do}",
        ),
    ]  # fmt: skip
