"""The register's tables as the present version knows them. `migrations/` makes them.

Dates that a person wrote stay as written (`2026-03-14`, or with the clock of the place); they become instants
when they are read, with the zone of the place. Times envwatch made itself are ISO UTC; of readings, integer
microseconds UTC. Columns that hold JSON are named so in their comment.
"""

from __future__ import annotations

from sqlalchemy import BigInteger, Boolean, Column, Float, ForeignKey, Index, Integer, MetaData, Table, Text

VERSION = 8  # of the register's layout; SQLite's user_version, Alembic's number. One migration a step.
META = MetaData()
Long = BigInteger().with_variant(Integer, "sqlite")  # whose integers are as long as they need be


def _key(name: str) -> Column:
    return Column(name, Integer, primary_key=True)


def _to(name: str, target: str) -> Column:
    return Column(name, Text, ForeignKey(f"{target}.id"), nullable=False)


def _texts(*names: str) -> list[Column]:
    return [Column(name, Text, nullable=False, server_default="") for name in names]


def _floats(*names: str) -> list[Column]:
    return [Column(name, Float) for name in names]


PLACES = Table(
    "places", META, Column("id", Text, primary_key=True), *_texts("name", "kind"), Column("volume_m3", Float),
    Column("outer_walls", Integer), Column("altitude_m", Float), *_texts("zone", "note"),
)  # fmt: skip
LOGGERS = Table(
    "loggers", META, Column("id", Text, primary_key=True), *_texts("name", "labels", "zone"),
    Column("fetch_days", Integer), Column("temp_accuracy_c", Float), Column("rh_accuracy_percent", Float),
    *_texts("calibrated_on", "note"), Column("made_by_batch", Integer),
)  # fmt: skip
CALIBRATIONS = Table(
    "calibrations", META, _key("id"), _to("logger", "loggers"), *_texts("channel", "on"),
    Column("rh_read_low", Float), Column("rh_true_low", Float), Column("rh_read_high", Float),
    Column("rh_true_high", Float), Column("temp_read_c", Float), Column("temp_true_c", Float),
    Column("temp_accuracy_c", Float), Column("rh_accuracy_percent", Float), *_texts("due", "basis", "note"),
)  # fmt: skip
HANGINGS = Table(
    "hangings", META, _key("id"), _to("logger", "loggers"), *_texts("channel"), _to("place", "places"),
    *_texts("position", "from", "to"),
)  # fmt: skip
STAND_INS = Table(  # while a place's own loggers are dead, a neighbour's air, with what it may be off by
    "stand_ins", META, _key("id"), _to("place", "places"), _to("neighbour", "places"), *_texts("from", "to"),
    *_floats("temp_u_c", "rh_u_percent"), *_texts("note"),
)  # fmt: skip
MARK_ANSWERS = Table(  # what a person says about readings that bear a quality mark
    "mark_answers", META, _key("id"), _to("logger", "loggers"),
    *_texts("channel", "mark", "from", "to", "answer", "by", "on", "because"),
)  # fmt: skip
CAUSES = Table(  # what made the air of a place harm paintings, as a person named it, once
    "causes",
    META,
    _key("id"),
    _to("place", "places"),
    *_texts("kind", "from", "to", "cause", "by", "on"),
)
PAINTINGS = Table(
    "paintings", META, Column("id", Text, primary_key=True), *_texts("title", "maker", "made"),
    Column("height_cm", Float), Column("width_cm", Float), Column("weight_kg", Float), *_texts("support"),
    Column("glazed", Boolean), Column("backed", Boolean), *_texts("stretcher"), Column("frame_depth_mm", Float),
    *_texts("tacking_margins", "owner", "care", "care_until", "ground", "varnish", "value_band"),
)  # fmt: skip
LAYERS = Table(
    "layers", META, _key("id"), _to("painting", "paintings"), Column("order", Integer, nullable=False),
    *_texts("role", "material", "area", "applied_on"), Column("assumed", Boolean), *_texts("note"),
)  # fmt: skip
TREATMENTS = Table(
    "treatments", META, Column("id", Text, primary_key=True), _to("painting", "paintings"),
    *_texts("kind", "on", "material", "end"), Column("temp_interface_c", Float), *_texts("note"),
    *_texts("layer", "family", "form", "batch", "carrier"), *_floats("solids_percent", "bloom", "thickness_um"),
    Column("coats", Integer), *_floats("amount_g_m2"), *_texts("side", "cloth", "temps_interface_c"),
    *_floats("heating_min", "hold_min", "cooling_min", "pressure_mbar", "weight_g_cm2", "drying_h"),
    *_texts("peel_trial"), Column("strip_kept", Boolean),
    *_floats("studio_temp_c", "studio_rh_percent", "weight_after_kg"),
    *_texts("inspection_days", "limits_told", "removal"),
)  # fmt: skip
STAYS = Table(
    "stays", META, _key("id"), _to("painting", "paintings"), _to("place", "places"),
    *_texts("position", "from", "to"), Column("intended", Boolean), *_texts("purpose"),
)  # fmt: skip
OBSERVATIONS = Table(
    "observations", META, _key("id"), _to("painting", "paintings"), *_texts("on", "sign", "where"),
    Column("finding", Integer), Column("confirms", Boolean), *_texts("note", "photo", "look", "by"),
)  # fmt: skip

BATCHES = Table(  # `kind`: "" of an add, else what was done to files kept before; `before`: JSON, how they were kept
    "batches", META, _key("id"), *_texts("added_at", "version", "kind", "before"), sqlite_autoincrement=True
)
FILES = Table(
    "files", META, _key("id"), Column("batch", Integer, ForeignKey("batches.id"), nullable=False),
    Column("sha256", Text, nullable=False, unique=True), *_texts("name", "name_key", "suffix"),
    Column("size", Long), _to("logger", "loggers"), *_texts("label"),
    *_texts("answers", "layout", "counts", "notes", "events"),  # JSON, the five of them
    Column("first_us", Long), Column("last_us", Long), Column("readings", Integer),
    Column("lines_after", Integer), *_texts("fetched", "reader"),
    sqlite_autoincrement=True,
)  # fmt: skip
FILE_CHANNELS = Table(
    "file_channels", META, _key("id"), Column("file", Integer, ForeignKey("files.id"), nullable=False),
    *_texts("channel"), Column("new", Integer), Column("duplicate", Integer), Column("conflict", Integer),
    Column("first_us", Long), Column("last_us", Long),
    Column("temp_decimals", Integer), Column("rh_decimals", Integer),
)  # fmt: skip
LEARNED = Table(  # what a logger's earlier files taught: the names it goes by, the answers given about it
    "learned", META, _key("id"), _to("logger", "loggers"), *_texts("kind", "value"),
    Column("file", Integer, ForeignKey("files.id")),
)  # fmt: skip
TRAY = Table(
    "tray", META, _key("number"), Column("sha256", Text, nullable=False, unique=True),
    *_texts("name", "name_key", "suffix"), Column("size", Long), *_texts("question", "option", "choices"),
    *_texts("answers", "asked_at", "about"), sqlite_autoincrement=True,
)  # fmt: skip
PARTS = Table(
    "parts", META, _key("id"), _to("logger", "loggers"), Column("year", Integer, nullable=False), *_texts("path"),
    Column("rows", Integer), Column("first_us", Long), Column("last_us", Long), *_texts("sha256"),
    *_texts("superseded_at"), sqlite_autoincrement=True,
)  # fmt: skip

LIMITS = Table("limits", META, Column("id", Text, primary_key=True), *_texts("record"))  # id: of its content
REVIEWS = Table(
    "reviews", META, _key("id"), *_texts("made_at", "period_start", "period_end", "record"),
    Column("limits", Text, ForeignKey("limits.id")), sqlite_autoincrement=True,
)  # fmt: skip
FINDINGS = Table(  # a number is given once; `record` is what the last kept review said of it
    "findings", META, _key("number"), Column("key", Text, nullable=False, unique=True), *_texts("first_at", "record"),
    Column("review", Integer, ForeignKey("reviews.id")), sqlite_autoincrement=True,
)  # fmt: skip
TASKS = Table(  # `number` is the finding's; a finding that comes back after its task was closed makes a new row
    "tasks", META, _key("id"), Column("number", Integer, nullable=False),
    *_texts("painting", "what", "due", "raised_on", "closed_on", "word", "put_off_until", "put_off_reason"),
    Column("put_off_level", Integer),
)  # fmt: skip
ROW_SUMS = Table(  # of each row of the file's tables; kept by `store/sums`
    "row_sums", META, Column("table_name", Text, primary_key=True), Column("row_key", Text, primary_key=True),
    *_texts("sum"),
)  # fmt: skip
ACCEPTED = Table(  # a register that was not as envwatch wrote it, and was taken as it stood. `rows`: JSON, lines
    "accepted", META, _key("id"), *_texts("on", "by", "because", "rows")
)

Index("hangings_by_place", HANGINGS.c.place)
Index("stand_ins_by_place", STAND_INS.c.place)
Index("mark_answers_by_logger", MARK_ANSWERS.c.logger)
Index("causes_by_place", CAUSES.c.place)
Index("layers_by_painting", LAYERS.c.painting)
Index("stays_by_painting", STAYS.c.painting)
Index("files_by_logger", FILES.c.logger)
Index("files_by_name", FILES.c.name_key)
Index("file_channels_by_file", FILE_CHANNELS.c.file)
Index("parts_by_logger", PARTS.c.logger, PARTS.c.year)
Index("tasks_by_number", TASKS.c.number)
