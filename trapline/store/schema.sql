-- The project file: an OGC GeoPackage 1.3 (OGC 12-128r17) that any GIS can read.
-- Column types are those of its table 1; the program's own tables carry the prefix app_.

CREATE TABLE gpkg_spatial_ref_sys (
    srs_name TEXT NOT NULL,
    srs_id INTEGER PRIMARY KEY NOT NULL,
    organization TEXT NOT NULL,
    organization_coordsys_id INTEGER NOT NULL,
    definition TEXT NOT NULL,
    description TEXT
);

INSERT INTO gpkg_spatial_ref_sys VALUES
    ('Undefined cartesian SRS', -1, 'NONE', -1, 'undefined', NULL),
    ('Undefined geographic SRS', 0, 'NONE', 0, 'undefined', NULL),
    ('WGS 84 geodetic', 4326, 'EPSG', 4326, 'GEOGCS["WGS 84",DATUM["WGS_1984",SPHEROID["WGS 84",6378137,298.257223563,AUTHORITY["EPSG","7030"]],AUTHORITY["EPSG","6326"]],PRIMEM["Greenwich",0,AUTHORITY["EPSG","8901"]],UNIT["degree",0.0174532925199433,AUTHORITY["EPSG","9122"]],AXIS["Latitude",NORTH],AXIS["Longitude",EAST],AUTHORITY["EPSG","4326"]]', 'longitude/latitude in degrees on WGS 84');

CREATE TABLE gpkg_contents (
    table_name TEXT NOT NULL PRIMARY KEY,
    data_type TEXT NOT NULL,
    identifier TEXT UNIQUE,
    description TEXT DEFAULT '',
    last_change DATETIME NOT NULL DEFAULT (strftime('%Y-%m-%dT%H:%M:%fZ','now')),
    min_x DOUBLE,
    min_y DOUBLE,
    max_x DOUBLE,
    max_y DOUBLE,
    srs_id INTEGER,
    CONSTRAINT fk_gc_r_srs_id FOREIGN KEY (srs_id) REFERENCES gpkg_spatial_ref_sys(srs_id)
);

CREATE TABLE gpkg_geometry_columns (
    table_name TEXT NOT NULL,
    column_name TEXT NOT NULL,
    geometry_type_name TEXT NOT NULL,
    srs_id INTEGER NOT NULL,
    z TINYINT NOT NULL,
    m TINYINT NOT NULL,
    CONSTRAINT pk_geom_cols PRIMARY KEY (table_name, column_name),
    CONSTRAINT uk_gc_table_name UNIQUE (table_name),
    CONSTRAINT fk_gc_tn FOREIGN KEY (table_name) REFERENCES gpkg_contents(table_name),
    CONSTRAINT fk_gc_srs FOREIGN KEY (srs_id) REFERENCES gpkg_spatial_ref_sys (srs_id)
);

CREATE TABLE gpkg_extensions (
    table_name TEXT,
    column_name TEXT,
    extension_name TEXT NOT NULL,
    definition TEXT NOT NULL,
    scope TEXT NOT NULL,
    CONSTRAINT ge_tce UNIQUE (table_name, column_name, extension_name)
);

-- Settings of the file: schema_version, min_reader, created_by. Outside undo.
CREATE TABLE app_meta (
    key TEXT PRIMARY KEY NOT NULL,
    value TEXT NOT NULL
);

-- One step a row: what was done, when, by whom, in which sitting.
-- state: done, undone (can be redone), dropped (its redo was given up), closed (cannot be undone:
-- the making of the project, and all before a change of format).
CREATE TABLE app_step (
    step INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL,
    label TEXT NOT NULL,
    at_utc TEXT NOT NULL,
    who TEXT NOT NULL,
    sitting INTEGER NOT NULL,
    state TEXT NOT NULL
);

CREATE INDEX app_step_state ON app_step (state, step);

-- What the step did, row by row, as JSON of the columns before and after.
CREATE TABLE app_step_row (
    step INTEGER NOT NULL REFERENCES app_step (step),
    seq INTEGER NOT NULL,
    table_name TEXT NOT NULL,
    row_id TEXT NOT NULL,
    before TEXT,
    after TEXT,
    PRIMARY KEY (step, seq)
);

CREATE INDEX app_step_row_id ON app_step_row (row_id);

-- Where the user was looking: outside undo.
CREATE TABLE app_view (
    key TEXT PRIMARY KEY NOT NULL,
    value TEXT NOT NULL
);

-- What the user knows. Every column that refers to another table is indexed: else each deleted row
-- would make SQLite read that whole table.

CREATE TABLE project (
    fid INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL,
    id TEXT NOT NULL UNIQUE,
    name TEXT NOT NULL,
    notes TEXT NOT NULL,
    is_example BOOLEAN
);

CREATE TABLE water (
    fid INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL,
    id TEXT NOT NULL UNIQUE,
    name TEXT NOT NULL,
    kind TEXT NOT NULL,
    shore TEXT NOT NULL,
    mixed_depth_m REAL,
    shoreline TEXT NOT NULL,
    notes TEXT NOT NULL
);

CREATE TABLE line (
    fid INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL,
    id TEXT NOT NULL UNIQUE,
    water_id TEXT REFERENCES water (id) DEFERRABLE INITIALLY DEFERRED,
    name TEXT NOT NULL,
    kind TEXT NOT NULL,
    spacing_m REAL,
    notes TEXT NOT NULL
);

CREATE INDEX line_water_id ON line (water_id);

CREATE TABLE place (
    fid INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL,
    geom POINT,
    id TEXT NOT NULL UNIQUE,
    line_id TEXT REFERENCES line (id) DEFERRABLE INITIALLY DEFERRED,
    ordinal INTEGER,
    label TEXT NOT NULL,
    accuracy_m REAL,
    fix TEXT NOT NULL,
    is_stake BOOLEAN,
    from_place_id TEXT REFERENCES place (id) DEFERRABLE INITIALLY DEFERRED,
    rope_m REAL,
    bearing_deg REAL,
    depth_m REAL,
    bottom TEXT NOT NULL,
    notes TEXT NOT NULL
);

CREATE INDEX place_line_id ON place (line_id);
CREATE INDEX place_from_place_id ON place (from_place_id);

CREATE TABLE trap (
    fid INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL,
    id TEXT NOT NULL UNIQUE,
    number TEXT NOT NULL,
    tags TEXT NOT NULL,
    kind TEXT NOT NULL,
    entrance_mm REAL,
    mesh_mm REAL,
    escape_mm REAL,
    has_excluder BOOLEAN,
    owner_mark TEXT NOT NULL,
    state TEXT NOT NULL,
    state_note TEXT NOT NULL,
    notes TEXT NOT NULL
);

CREATE TABLE bait (
    fid INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL,
    id TEXT NOT NULL UNIQUE,
    name TEXT NOT NULL,
    kind TEXT NOT NULL,
    form TEXT NOT NULL,
    amount TEXT NOT NULL,
    cost TEXT NOT NULL,
    colour TEXT NOT NULL,
    mark TEXT NOT NULL,
    still_reach_m REAL,
    down_reach_m REAL,
    side_reach_m REAL,
    half_life_h REAL,
    is_control BOOLEAN,
    notes TEXT NOT NULL
);

CREATE TABLE species (
    fid INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL,
    id TEXT NOT NULL UNIQUE,
    name TEXT NOT NULL,
    scientific_name TEXT NOT NULL,
    role TEXT NOT NULL,
    local_status TEXT NOT NULL,
    min_size_mm REAL,
    max_size_mm REAL,
    notes TEXT NOT NULL
);

CREATE TABLE trip (
    fid INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL,
    id TEXT NOT NULL UNIQUE,
    name TEXT NOT NULL,
    water_id TEXT REFERENCES water (id) DEFERRABLE INITIALLY DEFERRED,
    line_id TEXT REFERENCES line (id) DEFERRABLE INITIALLY DEFERRED,
    started_on DATE,
    purpose TEXT NOT NULL,
    zone TEXT NOT NULL,
    min_gap_m REAL,
    max_gap_m REAL,
    reference_bait_id TEXT REFERENCES bait (id) DEFERRABLE INITIALLY DEFERRED,
    target_species_id TEXT REFERENCES species (id) DEFERRABLE INITIALLY DEFERRED,
    winner_threshold REAL,
    layout_scheme TEXT NOT NULL,
    layout_seed INTEGER,
    layout_draw TEXT NOT NULL,
    notes TEXT NOT NULL
);

CREATE INDEX trip_water_id ON trip (water_id);
CREATE INDEX trip_line_id ON trip (line_id);
CREATE INDEX trip_reference_bait_id ON trip (reference_bait_id);
CREATE INDEX trip_target_species_id ON trip (target_species_id);

CREATE TABLE round (
    fid INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL,
    id TEXT NOT NULL UNIQUE,
    trip_id TEXT REFERENCES trip (id) DEFERRABLE INITIALLY DEFERRED,
    number INTEGER,
    set_on DATE,
    crew TEXT NOT NULL,
    boat TEXT NOT NULL,
    weather TEXT NOT NULL,
    water_temp_c REAL,
    current_m_s REAL,
    current_to_deg REAL,
    tide_state TEXT NOT NULL,
    high_water_utc DATETIME,
    lift_from TEXT NOT NULL,
    notes TEXT NOT NULL
);

CREATE INDEX round_trip_id ON round (trip_id);

CREATE TABLE trap_set (
    fid INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL,
    geom POINT,
    id TEXT NOT NULL UNIQUE,
    round_id TEXT REFERENCES round (id) DEFERRABLE INITIALLY DEFERRED,
    trap_id TEXT REFERENCES trap (id) DEFERRABLE INITIALLY DEFERRED,
    planned_place_id TEXT REFERENCES place (id) DEFERRABLE INITIALLY DEFERRED,
    place_id TEXT REFERENCES place (id) DEFERRABLE INITIALLY DEFERRED,
    planned_bait_id TEXT REFERENCES bait (id) DEFERRABLE INITIALLY DEFERRED,
    bait_id TEXT REFERENCES bait (id) DEFERRABLE INITIALLY DEFERRED,
    state TEXT NOT NULL,
    block INTEGER,
    set_utc DATETIME,
    lift_utc DATETIME,
    set_by TEXT NOT NULL,
    lifted_by TEXT NOT NULL,
    continues_id TEXT REFERENCES trap_set (id) DEFERRABLE INITIALLY DEFERRED,
    bait_action TEXT NOT NULL,
    bait_hung_utc DATETIME,
    condition TEXT NOT NULL,
    disturbed_utc DATETIME,
    bait_left TEXT NOT NULL,
    counted BOOLEAN,
    fraction_counted REAL,
    afterwards TEXT NOT NULL,
    moved_to_place_id TEXT REFERENCES place (id) DEFERRABLE INITIALLY DEFERRED,
    notes TEXT NOT NULL
);

CREATE INDEX trap_set_round_id ON trap_set (round_id);
CREATE INDEX trap_set_trap_id ON trap_set (trap_id);
CREATE INDEX trap_set_planned_place_id ON trap_set (planned_place_id);
CREATE INDEX trap_set_place_id ON trap_set (place_id);
CREATE INDEX trap_set_planned_bait_id ON trap_set (planned_bait_id);
CREATE INDEX trap_set_bait_id ON trap_set (bait_id);
CREATE INDEX trap_set_continues_id ON trap_set (continues_id);
CREATE INDEX trap_set_moved_to_place_id ON trap_set (moved_to_place_id);

CREATE TABLE catch (
    fid INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL,
    id TEXT NOT NULL UNIQUE,
    trap_set_id TEXT REFERENCES trap_set (id) DEFERRABLE INITIALLY DEFERRED,
    species_id TEXT REFERENCES species (id) DEFERRABLE INITIALLY DEFERRED,
    fate TEXT NOT NULL,
    count INTEGER,
    weight_kg REAL,
    measure_n REAL,
    measure_name TEXT NOT NULL,
    notes TEXT NOT NULL
);

CREATE INDEX catch_trap_set_id ON catch (trap_set_id);
CREATE INDEX catch_species_id ON catch (species_id);
