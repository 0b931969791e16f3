"""The first layout of the register."""

from alembic import op

revision = "0001"
down_revision = None

TABLES = """
CREATE TABLE batches (
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT, added_at TEXT DEFAULT '' NOT NULL, version TEXT DEFAULT ''
    NOT NULL
);

CREATE TABLE limits (
    id TEXT NOT NULL, record TEXT DEFAULT '' NOT NULL, PRIMARY KEY (id)
);

CREATE TABLE loggers (
    id TEXT NOT NULL, name TEXT DEFAULT '' NOT NULL, labels TEXT DEFAULT '' NOT NULL, zone TEXT DEFAULT '' NOT
    NULL, fetch_days INTEGER, temp_accuracy_c FLOAT, rh_accuracy_percent FLOAT, calibrated_on TEXT DEFAULT ''
    NOT NULL, note TEXT DEFAULT '' NOT NULL, made_by_batch INTEGER, PRIMARY KEY (id)
);

CREATE TABLE paintings (
    id TEXT NOT NULL, title TEXT DEFAULT '' NOT NULL, maker TEXT DEFAULT '' NOT NULL, made TEXT DEFAULT '' NOT
    NULL, height_cm FLOAT, width_cm FLOAT, weight_kg FLOAT, support TEXT DEFAULT '' NOT NULL, glazed BOOLEAN,
    backed BOOLEAN, stretcher TEXT DEFAULT '' NOT NULL, frame_depth_mm FLOAT, tacking_margins TEXT DEFAULT ''
    NOT NULL, owner TEXT DEFAULT '' NOT NULL, care TEXT DEFAULT '' NOT NULL, care_until TEXT DEFAULT '' NOT
    NULL, PRIMARY KEY (id)
);

CREATE TABLE places (
    id TEXT NOT NULL, name TEXT DEFAULT '' NOT NULL, kind TEXT DEFAULT '' NOT NULL, volume_m3 FLOAT,
    outer_walls INTEGER, altitude_m FLOAT, zone TEXT DEFAULT '' NOT NULL, note TEXT DEFAULT '' NOT NULL,
    PRIMARY KEY (id)
);

CREATE TABLE tasks (
    id INTEGER NOT NULL, number INTEGER NOT NULL, painting TEXT DEFAULT '' NOT NULL, what TEXT DEFAULT '' NOT
    NULL, due TEXT DEFAULT '' NOT NULL, raised_on TEXT DEFAULT '' NOT NULL, closed_on TEXT DEFAULT '' NOT
    NULL, word TEXT DEFAULT '' NOT NULL, put_off_until TEXT DEFAULT '' NOT NULL, put_off_reason TEXT DEFAULT
    '' NOT NULL, put_off_level INTEGER, PRIMARY KEY (id)
);

CREATE TABLE tray (
    number INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT, sha256 TEXT NOT NULL, name TEXT DEFAULT '' NOT NULL,
    name_key TEXT DEFAULT '' NOT NULL, suffix TEXT DEFAULT '' NOT NULL, size INTEGER, question TEXT DEFAULT ''
    NOT NULL, option TEXT DEFAULT '' NOT NULL, choices TEXT DEFAULT '' NOT NULL, answers TEXT DEFAULT '' NOT
    NULL, asked_at TEXT DEFAULT '' NOT NULL, UNIQUE (sha256)
);

CREATE TABLE calibrations (
    id INTEGER NOT NULL, logger TEXT NOT NULL, channel TEXT DEFAULT '' NOT NULL, "on" TEXT DEFAULT '' NOT
    NULL, rh_read_low FLOAT, rh_true_low FLOAT, rh_read_high FLOAT, rh_true_high FLOAT, temp_read_c FLOAT,
    temp_true_c FLOAT, temp_accuracy_c FLOAT, rh_accuracy_percent FLOAT, due TEXT DEFAULT '' NOT NULL, basis
    TEXT DEFAULT '' NOT NULL, note TEXT DEFAULT '' NOT NULL, PRIMARY KEY (id), FOREIGN KEY(logger) REFERENCES
    loggers (id)
);

CREATE TABLE files (
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT, batch INTEGER NOT NULL, sha256 TEXT NOT NULL, name TEXT
    DEFAULT '' NOT NULL, name_key TEXT DEFAULT '' NOT NULL, suffix TEXT DEFAULT '' NOT NULL, size INTEGER,
    logger TEXT NOT NULL, label TEXT DEFAULT '' NOT NULL, answers TEXT DEFAULT '' NOT NULL, layout TEXT
    DEFAULT '' NOT NULL, counts TEXT DEFAULT '' NOT NULL, notes TEXT DEFAULT '' NOT NULL, events TEXT DEFAULT
    '' NOT NULL, first_us INTEGER, last_us INTEGER, readings INTEGER, lines_after INTEGER, fetched TEXT
    DEFAULT '' NOT NULL, reader TEXT DEFAULT '' NOT NULL, FOREIGN KEY(batch) REFERENCES batches (id), UNIQUE
    (sha256), FOREIGN KEY(logger) REFERENCES loggers (id)
);

CREATE TABLE hangings (
    id INTEGER NOT NULL, logger TEXT NOT NULL, channel TEXT DEFAULT '' NOT NULL, place TEXT NOT NULL, position
    TEXT DEFAULT '' NOT NULL, "from" TEXT DEFAULT '' NOT NULL, "to" TEXT DEFAULT '' NOT NULL, PRIMARY KEY
    (id), FOREIGN KEY(logger) REFERENCES loggers (id), FOREIGN KEY(place) REFERENCES places (id)
);

CREATE TABLE layers (
    id INTEGER NOT NULL, painting TEXT NOT NULL, "order" INTEGER NOT NULL, role TEXT DEFAULT '' NOT NULL,
    material TEXT DEFAULT '' NOT NULL, area TEXT DEFAULT '' NOT NULL, applied_on TEXT DEFAULT '' NOT NULL,
    assumed BOOLEAN, note TEXT DEFAULT '' NOT NULL, PRIMARY KEY (id), FOREIGN KEY(painting) REFERENCES
    paintings (id)
);

CREATE TABLE observations (
    id INTEGER NOT NULL, painting TEXT NOT NULL, "on" TEXT DEFAULT '' NOT NULL, sign TEXT DEFAULT '' NOT NULL,
    "where" TEXT DEFAULT '' NOT NULL, finding INTEGER, confirms BOOLEAN, note TEXT DEFAULT '' NOT NULL,
    PRIMARY KEY (id), FOREIGN KEY(painting) REFERENCES paintings (id)
);

CREATE TABLE parts (
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT, logger TEXT NOT NULL, year INTEGER NOT NULL, path TEXT
    DEFAULT '' NOT NULL, rows INTEGER, first_us INTEGER, last_us INTEGER, sha256 TEXT DEFAULT '' NOT NULL,
    superseded_at TEXT DEFAULT '' NOT NULL, FOREIGN KEY(logger) REFERENCES loggers (id)
);

CREATE TABLE reviews (
    id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT, made_at TEXT DEFAULT '' NOT NULL, period_start TEXT DEFAULT
    '' NOT NULL, period_end TEXT DEFAULT '' NOT NULL, record TEXT DEFAULT '' NOT NULL, limits TEXT, FOREIGN
    KEY(limits) REFERENCES limits (id)
);

CREATE TABLE stays (
    id INTEGER NOT NULL, painting TEXT NOT NULL, place TEXT NOT NULL, position TEXT DEFAULT '' NOT NULL,
    "from" TEXT DEFAULT '' NOT NULL, "to" TEXT DEFAULT '' NOT NULL, intended BOOLEAN, purpose TEXT DEFAULT ''
    NOT NULL, PRIMARY KEY (id), FOREIGN KEY(painting) REFERENCES paintings (id), FOREIGN KEY(place) REFERENCES
    places (id)
);

CREATE TABLE treatments (
    id TEXT NOT NULL, painting TEXT NOT NULL, kind TEXT DEFAULT '' NOT NULL, "on" TEXT DEFAULT '' NOT NULL,
    material TEXT DEFAULT '' NOT NULL, "end" TEXT DEFAULT '' NOT NULL, temp_interface_c FLOAT, note TEXT
    DEFAULT '' NOT NULL, PRIMARY KEY (id), FOREIGN KEY(painting) REFERENCES paintings (id)
);

CREATE TABLE file_channels (
    id INTEGER NOT NULL, file INTEGER NOT NULL, channel TEXT DEFAULT '' NOT NULL, new INTEGER, duplicate
    INTEGER, "conflict" INTEGER, first_us INTEGER, last_us INTEGER, temp_decimals INTEGER, rh_decimals
    INTEGER, PRIMARY KEY (id), FOREIGN KEY(file) REFERENCES files (id)
);

CREATE TABLE findings (
    number INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT, "key" TEXT NOT NULL, first_at TEXT DEFAULT '' NOT NULL,
    record TEXT DEFAULT '' NOT NULL, review INTEGER, UNIQUE ("key"), FOREIGN KEY(review) REFERENCES reviews
    (id)
);

CREATE TABLE learned (
    id INTEGER NOT NULL, logger TEXT NOT NULL, kind TEXT DEFAULT '' NOT NULL, value TEXT DEFAULT '' NOT NULL,
    file INTEGER, PRIMARY KEY (id), FOREIGN KEY(logger) REFERENCES loggers (id), FOREIGN KEY(file) REFERENCES
    files (id)
);

CREATE INDEX tasks_by_number ON tasks (number);

CREATE INDEX files_by_logger ON files (logger);

CREATE INDEX files_by_name ON files (name_key);

CREATE INDEX hangings_by_place ON hangings (place);

CREATE INDEX layers_by_painting ON layers (painting);

CREATE INDEX parts_by_logger ON parts (logger, year);

CREATE INDEX stays_by_painting ON stays (painting);

CREATE INDEX file_channels_by_file ON file_channels (file);
"""


def upgrade() -> None:
    """Make every table and index."""
    for statement in TABLES.split(";\n"):
        if statement.strip():
            op.execute(statement)
