"""Everything that the main job needs, as it stood when this revision was made.

Revision 0001, the first.
"""

from collections.abc import Sequence

import sqlalchemy as sa
from alembic import op

revision: str = "0001"
down_revision: str | Sequence[str] | None = None
branch_labels: str | Sequence[str] | None = None
depends_on: str | Sequence[str] | None = None


def upgrade() -> None:
    """Bring the tables up to this revision."""
    op.create_table(
        "centre",
        sa.Column("id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("name", sa.String(length=200), nullable=False),
        sa.Column("code", sa.String(length=8), nullable=False),
        sa.Column("timezone", sa.String(length=60), nullable=False),
        sa.Column("altitude_m", sa.Float(53), nullable=False),
        sa.Column("usual_water_c", sa.Float(53), nullable=False),
        sa.Column("usual_depth_m", sa.Float(53), nullable=False),
        sa.Column("telephone", sa.String(length=60), nullable=True),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_centre")),
    )
    op.create_table(
        "notice",
        sa.Column("id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("ref", sa.String(length=80), nullable=True),
        sa.Column("number", sa.String(length=60), nullable=False),
        sa.Column("issued_on", sa.Date(), nullable=False),
        sa.Column("title", sa.String(length=200), nullable=False),
        sa.Column("text", sa.String(), nullable=False),
        sa.Column("action", sa.String(), nullable=False),
        sa.Column("by_when", sa.Date(), nullable=True),
        sa.Column("weight", sa.String(length=8), nullable=False),
        sa.CheckConstraint("weight IS NULL OR weight IN ('stop', 'advise')", name=op.f("ck_notice_weight_word")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_notice")),
        sa.UniqueConstraint("number", name=op.f("uq_notice_number")),
        sa.UniqueConstraint("ref", name=op.f("uq_notice_ref")),
    )
    op.create_table(
        "owner",
        sa.Column("id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("ref", sa.String(length=80), nullable=True),
        sa.Column("name", sa.String(length=120), nullable=False),
        sa.Column("kind", sa.String(length=20), nullable=False),
        sa.CheckConstraint("kind IS NULL OR kind IN ('centre', 'loan', 'renter')", name=op.f("ck_owner_kind_word")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_owner")),
        sa.UniqueConstraint("name", name=op.f("uq_owner_name")),
        sa.UniqueConstraint("ref", name=op.f("uq_owner_ref")),
    )
    op.create_table(
        "part_type",
        sa.Column("id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("ref", sa.String(length=80), nullable=True),
        sa.Column("code", sa.String(length=40), nullable=False),
        sa.Column("name", sa.String(length=120), nullable=False),
        sa.Column("kind", sa.String(length=40), nullable=False),
        sa.Column("assembly", sa.Boolean(), nullable=False),
        sa.Column("grade", sa.String(length=40), nullable=True),
        sa.Column("stocked_in", sa.String(length=10), nullable=False),
        sa.Column("lead_days", sa.Integer(), nullable=True),
        sa.Column("pack_size", sa.Float(53), nullable=True),
        sa.Column("price", sa.Float(53), nullable=True),
        sa.Column("source", sa.String(length=300), nullable=False),
        sa.CheckConstraint(
            "stocked_in IS NULL OR stocked_in IN ('piece', 'kg')", name=op.f("ck_part_type_stocked_in_word")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_part_type")),
        sa.UniqueConstraint("code", name=op.f("uq_part_type_code")),
        sa.UniqueConstraint("ref", name=op.f("uq_part_type_ref")),
    )
    op.create_index(op.f("ix_part_type_kind"), "part_type", ["kind"])

    op.create_table(
        "person",
        sa.Column("id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("ref", sa.String(length=80), nullable=True),
        sa.Column("code", sa.String(length=20), nullable=False),
        sa.Column("role", sa.String(length=20), nullable=False),
        sa.Column("active", sa.Boolean(), nullable=False),
        sa.Column("pin_hash", sa.String(), nullable=True),
        sa.Column("erased_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.CheckConstraint(
            "role IS NULL OR role IN ('technician', 'manager', 'instructor', 'renter', 'student')",
            name=op.f("ck_person_role_word"),
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_person")),
        sa.UniqueConstraint("code", name=op.f("uq_person_code")),
        sa.UniqueConstraint("ref", name=op.f("uq_person_ref")),
    )
    op.create_table(
        "place",
        sa.Column("id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("ref", sa.String(length=80), nullable=True),
        sa.Column("name", sa.String(length=120), nullable=False),
        sa.Column("kind", sa.String(length=20), nullable=False),
        sa.CheckConstraint(
            "kind IS NULL OR kind IN ('shelf', 'bench', 'kit', 'van', 'site', 'quarantine', 'sent back', 'away')",
            name=op.f("ck_place_kind_word"),
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_place")),
        sa.UniqueConstraint("name", name=op.f("uq_place_name")),
        sa.UniqueConstraint("ref", name=op.f("uq_place_ref")),
    )
    op.create_table(
        "test_equipment",
        sa.Column("id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("ref", sa.String(length=80), nullable=True),
        sa.Column("kind", sa.String(length=20), nullable=False),
        sa.Column("name", sa.String(length=120), nullable=False),
        sa.Column("serial", sa.String(length=60), nullable=False),
        sa.Column("uncertainty", sa.Float(53), nullable=True),
        sa.Column("unit", sa.String(length=12), nullable=True),
        sa.Column("last_good_day", sa.Date(), nullable=True),
        sa.CheckConstraint(
            "kind IS NULL OR kind IN ('analyser', 'barometer', 'hygrometer', 'thermometer', 'bench meter', 'gauge', 'manometer', 'scale', 'pressure pot', 'flow meter', 'reference cell')",
            name=op.f("ck_test_equipment_kind_word"),
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_test_equipment")),
        sa.UniqueConstraint("ref", name=op.f("uq_test_equipment_ref")),
        sa.UniqueConstraint("serial", name=op.f("uq_test_equipment_serial")),
    )
    op.create_table(
        "unit_type",
        sa.Column("id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("ref", sa.String(length=80), nullable=True),
        sa.Column("code", sa.String(length=40), nullable=False),
        sa.Column("name", sa.String(length=120), nullable=False),
        sa.Column("build", sa.String(length=20), nullable=False),
        sa.Column("loop_volume_l", sa.Float(53), nullable=True),
        sa.Column("head_volume_l", sa.Float(53), nullable=True),
        sa.Column("flush_l_min", sa.Float(53), nullable=True),
        sa.Column("first_stage_blocked", sa.Boolean(), nullable=True),
        sa.Column("set_point_low_bar", sa.Float(53), nullable=True),
        sa.Column("set_point_high_bar", sa.Float(53), nullable=True),
        sa.Column("manual", sa.String(length=300), nullable=False),
        sa.CheckConstraint(
            "build IS NULL OR build IN ('back-mounted', 'chest-mounted', 'side-mounted')",
            name=op.f("ck_unit_type_build_word"),
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_unit_type")),
        sa.UniqueConstraint("code", name=op.f("uq_unit_type_code")),
        sa.UniqueConstraint("ref", name=op.f("uq_unit_type_ref")),
    )
    op.create_table(
        "bench_session",
        sa.Column("id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("ref", sa.String(length=80), nullable=True),
        sa.Column("started_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("person_id", sa.Integer(), nullable=False),
        sa.Column("pressure_mbar", sa.Float(53), nullable=False),
        sa.Column("pressure_source", sa.String(length=12), nullable=False),
        sa.Column("temperature_c", sa.Float(53), nullable=False),
        sa.Column("humidity", sa.Float(53), nullable=True),
        sa.Column("oxygen_shown_percent", sa.Float(53), nullable=True),
        sa.Column("analyser_id", sa.Integer(), nullable=True),
        sa.Column("barometer_id", sa.Integer(), nullable=True),
        sa.Column("hygrometer_id", sa.Integer(), nullable=True),
        sa.Column("ended_at", sa.DateTime(timezone=True), nullable=True),
        sa.CheckConstraint(
            "pressure_source IS NULL OR pressure_source IN ('measured', 'altitude')",
            name=op.f("ck_bench_session_pressure_source_word"),
        ),
        sa.ForeignKeyConstraint(["analyser_id"], ["test_equipment.id"], name=op.f("fk_bench_session_analyser_id")),
        sa.ForeignKeyConstraint(["barometer_id"], ["test_equipment.id"], name=op.f("fk_bench_session_barometer_id")),
        sa.ForeignKeyConstraint(["hygrometer_id"], ["test_equipment.id"], name=op.f("fk_bench_session_hygrometer_id")),
        sa.ForeignKeyConstraint(["person_id"], ["person.id"], name=op.f("fk_bench_session_person_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_bench_session")),
        sa.UniqueConstraint("ref", name=op.f("uq_bench_session_ref")),
    )
    op.create_index(op.f("ix_bench_session_analyser_id"), "bench_session", ["analyser_id"])
    op.create_index(op.f("ix_bench_session_barometer_id"), "bench_session", ["barometer_id"])
    op.create_index(op.f("ix_bench_session_hygrometer_id"), "bench_session", ["hygrometer_id"])
    op.create_index(op.f("ix_bench_session_person_id"), "bench_session", ["person_id"])

    op.create_table(
        "booking",
        sa.Column("id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("ref", sa.String(length=80), nullable=True),
        sa.Column("kind", sa.String(length=8), nullable=False),
        sa.Column("code", sa.String(length=40), nullable=False),
        sa.Column("unit_type_id", sa.Integer(), nullable=False),
        sa.Column("starts_on", sa.Date(), nullable=False),
        sa.Column("ends_on", sa.Date(), nullable=False),
        sa.Column("units_wanted", sa.Integer(), nullable=False),
        sa.Column("renter_id", sa.Integer(), nullable=True),
        sa.Column("instructor_id", sa.Integer(), nullable=True),
        sa.Column("planned_minutes", sa.Float(53), nullable=True),
        sa.Column("planned_depth_m", sa.Float(53), nullable=True),
        sa.Column("planned_water_c", sa.Float(53), nullable=True),
        sa.Column("planned_co2_l_min", sa.Float(53), nullable=True),
        sa.Column("cancelled_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.CheckConstraint("kind IS NULL OR kind IN ('hire', 'course', 'try day')", name=op.f("ck_booking_kind_word")),
        sa.ForeignKeyConstraint(["instructor_id"], ["person.id"], name=op.f("fk_booking_instructor_id")),
        sa.ForeignKeyConstraint(["renter_id"], ["person.id"], name=op.f("fk_booking_renter_id")),
        sa.ForeignKeyConstraint(["unit_type_id"], ["unit_type.id"], name=op.f("fk_booking_unit_type_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_booking")),
        sa.UniqueConstraint("code", name=op.f("uq_booking_code")),
        sa.UniqueConstraint("ref", name=op.f("uq_booking_ref")),
    )
    op.create_index(op.f("ix_booking_ends_on"), "booking", ["ends_on"])
    op.create_index(op.f("ix_booking_instructor_id"), "booking", ["instructor_id"])
    op.create_index(op.f("ix_booking_renter_id"), "booking", ["renter_id"])
    op.create_index(op.f("ix_booking_starts_on"), "booking", ["starts_on"])
    op.create_index(op.f("ix_booking_unit_type_id"), "booking", ["unit_type_id"])

    op.create_table(
        "container",
        sa.Column("id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("ref", sa.String(length=80), nullable=True),
        sa.Column("part_type_id", sa.Integer(), nullable=False),
        sa.Column("lot", sa.String(length=60), nullable=False),
        sa.Column("received_kg", sa.Float(53), nullable=False),
        sa.Column("left_kg", sa.Float(53), nullable=False),
        sa.Column("received_on", sa.Date(), nullable=True),
        sa.Column("opened_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("last_good_day", sa.Date(), nullable=True),
        sa.Column("place_id", sa.Integer(), nullable=True),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(["part_type_id"], ["part_type.id"], name=op.f("fk_container_part_type_id")),
        sa.ForeignKeyConstraint(["place_id"], ["place.id"], name=op.f("fk_container_place_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_container")),
        sa.UniqueConstraint("ref", name=op.f("uq_container_ref")),
    )
    op.create_index(op.f("ix_container_lot"), "container", ["lot"])
    op.create_index(op.f("ix_container_part_type_id"), "container", ["part_type_id"])
    op.create_index(op.f("ix_container_place_id"), "container", ["place_id"])

    op.create_table(
        "journal",
        sa.Column("id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("person_id", sa.Integer(), nullable=True),
        sa.Column("act", sa.String(length=60), nullable=False),
        sa.Column("subject", sa.String(length=120), nullable=False),
        sa.Column("content", sa.Text(), nullable=False),
        sa.Column("previous", sa.String(length=64), nullable=False),
        sa.Column("hash", sa.String(length=64), nullable=False),
        sa.ForeignKeyConstraint(["person_id"], ["person.id"], name=op.f("fk_journal_person_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_journal")),
        sa.UniqueConstraint("hash", name=op.f("uq_journal_hash")),
    )
    op.create_index(op.f("ix_journal_at"), "journal", ["at"])
    op.create_index(op.f("ix_journal_person_id"), "journal", ["person_id"])
    op.create_index(op.f("ix_journal_subject"), "journal", ["subject"])

    op.create_table(
        "limit_value",
        sa.Column("id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("ref", sa.String(length=80), nullable=True),
        sa.Column("unit_type_id", sa.Integer(), nullable=True),
        sa.Column("part_type_id", sa.Integer(), nullable=True),
        sa.Column("name", sa.String(length=60), nullable=False),
        sa.Column("amount", sa.Float(53), nullable=False),
        sa.Column("unit", sa.String(length=20), nullable=False),
        sa.Column("source", sa.String(length=300), nullable=False),
        sa.Column("maker", sa.Boolean(), nullable=False),
        sa.ForeignKeyConstraint(["part_type_id"], ["part_type.id"], name=op.f("fk_limit_value_part_type_id")),
        sa.ForeignKeyConstraint(["unit_type_id"], ["unit_type.id"], name=op.f("fk_limit_value_unit_type_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_limit_value")),
        sa.UniqueConstraint("ref", name=op.f("uq_limit_value_ref")),
    )
    op.create_index(op.f("ix_limit_value_part_type_id"), "limit_value", ["part_type_id"])
    op.create_index(op.f("ix_limit_value_unit_type_id"), "limit_value", ["unit_type_id"])

    op.create_table(
        "notice_scope",
        sa.Column("id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("ref", sa.String(length=80), nullable=True),
        sa.Column("notice_id", sa.Integer(), nullable=False),
        sa.Column("covers", sa.String(length=12), nullable=False),
        sa.Column("first", sa.String(length=60), nullable=False),
        sa.Column("last", sa.String(length=60), nullable=True),
        sa.CheckConstraint(
            "covers IS NULL OR covers IN ('unit type', 'part type', 'lot', 'serials', 'firmware')",
            name=op.f("ck_notice_scope_covers_word"),
        ),
        sa.ForeignKeyConstraint(["notice_id"], ["notice.id"], name=op.f("fk_notice_scope_notice_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_notice_scope")),
        sa.UniqueConstraint("ref", name=op.f("uq_notice_scope_ref")),
    )
    op.create_index(op.f("ix_notice_scope_notice_id"), "notice_scope", ["notice_id"])

    op.create_table(
        "part",
        sa.Column("id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("ref", sa.String(length=80), nullable=True),
        sa.Column("part_type_id", sa.Integer(), nullable=False),
        sa.Column("serial", sa.String(length=60), nullable=True),
        sa.Column("lot", sa.String(length=60), nullable=True),
        sa.Column("made_on", sa.Date(), nullable=True),
        sa.Column("made_precision", sa.String(length=10), nullable=False),
        sa.Column("opened_on", sa.Date(), nullable=True),
        sa.Column("opened_precision", sa.String(length=10), nullable=False),
        sa.Column("received_on", sa.Date(), nullable=True),
        sa.Column("fixed_on", sa.Date(), nullable=True),
        sa.Column("fixed_precision", sa.String(length=10), nullable=False),
        sa.Column("owner_id", sa.Integer(), nullable=False),
        sa.Column("place_id", sa.Integer(), nullable=True),
        sa.Column("state", sa.String(length=12), nullable=False),
        sa.Column("firmware", sa.String(length=30), nullable=True),
        sa.Column("supplier", sa.String(length=120), nullable=True),
        sa.Column("price", sa.Float(53), nullable=True),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.CheckConstraint(
            "fixed_precision IS NULL OR fixed_precision IN ('day', 'month', 'quarter')",
            name=op.f("ck_part_fixed_precision_word"),
        ),
        sa.CheckConstraint(
            "made_precision IS NULL OR made_precision IN ('day', 'month', 'quarter')",
            name=op.f("ck_part_made_precision_word"),
        ),
        sa.CheckConstraint(
            "opened_precision IS NULL OR opened_precision IN ('day', 'month', 'quarter')",
            name=op.f("ck_part_opened_precision_word"),
        ),
        sa.CheckConstraint(
            "state IS NULL OR state IN ('stock', 'fitted', 'quarantine', 'scrapped', 'sent back')",
            name=op.f("ck_part_state_word"),
        ),
        sa.ForeignKeyConstraint(["owner_id"], ["owner.id"], name=op.f("fk_part_owner_id")),
        sa.ForeignKeyConstraint(["part_type_id"], ["part_type.id"], name=op.f("fk_part_part_type_id")),
        sa.ForeignKeyConstraint(["place_id"], ["place.id"], name=op.f("fk_part_place_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_part")),
        sa.UniqueConstraint("part_type_id", "serial", name="uq_part_type_serial"),
        sa.UniqueConstraint("ref", name=op.f("uq_part_ref")),
    )
    op.create_index(op.f("ix_part_lot"), "part", ["lot"])
    op.create_index(op.f("ix_part_owner_id"), "part", ["owner_id"])
    op.create_index(op.f("ix_part_part_type_id"), "part", ["part_type_id"])
    op.create_index(op.f("ix_part_place_id"), "part", ["place_id"])

    op.create_table(
        "part_type_life",
        sa.Column("id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("ref", sa.String(length=80), nullable=True),
        sa.Column("part_type_id", sa.Integer(), nullable=False),
        sa.Column("basis", sa.String(length=20), nullable=False),
        sa.Column("amount", sa.Float(53), nullable=False),
        sa.Column("unit", sa.String(length=10), nullable=False),
        sa.Column("test", sa.String(length=20), nullable=True),
        sa.Column("source", sa.String(length=300), nullable=False),
        sa.CheckConstraint(
            "basis IS NULL OR basis IN ('made', 'opened', 'fitted', 'hours', 'dives', 'hires', 'fixed_date', 'test_interval', 'storage')",
            name=op.f("ck_part_type_life_basis_word"),
        ),
        sa.CheckConstraint(
            "unit IS NULL OR unit IN ('months', 'days', 'hours', 'dives', 'hires')",
            name=op.f("ck_part_type_life_unit_word"),
        ),
        sa.ForeignKeyConstraint(["part_type_id"], ["part_type.id"], name=op.f("fk_part_type_life_part_type_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_part_type_life")),
        sa.UniqueConstraint("ref", name=op.f("uq_part_type_life_ref")),
    )
    op.create_index(op.f("ix_part_type_life_part_type_id"), "part_type_life", ["part_type_id"])

    op.create_table(
        "person_private",
        sa.Column("id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("person_id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(length=200), nullable=False),
        sa.Column("contact", sa.String(length=400), nullable=True),
        sa.Column("note", sa.String(), nullable=True),
        sa.ForeignKeyConstraint(["person_id"], ["person.id"], name=op.f("fk_person_private_person_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_person_private")),
    )
    op.create_index(op.f("ix_person_private_person_id"), "person_private", ["person_id"], unique=True)

    op.create_table(
        "qualification",
        sa.Column("id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("ref", sa.String(length=80), nullable=True),
        sa.Column("person_id", sa.Integer(), nullable=False),
        sa.Column("unit_type_id", sa.Integer(), nullable=True),
        sa.Column("kind", sa.String(length=20), nullable=False),
        sa.Column("seen_on", sa.Date(), nullable=False),
        sa.Column("seen_by_id", sa.Integer(), nullable=True),
        sa.Column("valid_until", sa.Date(), nullable=True),
        sa.CheckConstraint(
            "kind IS NULL OR kind IN ('diver', 'instructor', 'technician')", name=op.f("ck_qualification_kind_word")
        ),
        sa.ForeignKeyConstraint(["person_id"], ["person.id"], name=op.f("fk_qualification_person_id")),
        sa.ForeignKeyConstraint(["seen_by_id"], ["person.id"], name=op.f("fk_qualification_seen_by_id")),
        sa.ForeignKeyConstraint(["unit_type_id"], ["unit_type.id"], name=op.f("fk_qualification_unit_type_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_qualification")),
        sa.UniqueConstraint("ref", name=op.f("uq_qualification_ref")),
    )
    op.create_index(op.f("ix_qualification_person_id"), "qualification", ["person_id"])
    op.create_index(op.f("ix_qualification_seen_by_id"), "qualification", ["seen_by_id"])
    op.create_index(op.f("ix_qualification_unit_type_id"), "qualification", ["unit_type_id"])

    op.create_table(
        "rating_row",
        sa.Column("id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("ref", sa.String(length=80), nullable=True),
        sa.Column("part_type_id", sa.Integer(), nullable=False),
        sa.Column("grade", sa.String(length=40), nullable=False),
        sa.Column("water_c", sa.Float(53), nullable=False),
        sa.Column("depth_m", sa.Float(53), nullable=False),
        sa.Column("co2_l_min", sa.Float(53), nullable=False),
        sa.Column("minutes", sa.Float(53), nullable=False),
        sa.Column("source", sa.String(length=300), nullable=False),
        sa.ForeignKeyConstraint(["part_type_id"], ["part_type.id"], name=op.f("fk_rating_row_part_type_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_rating_row")),
        sa.UniqueConstraint("ref", name=op.f("uq_rating_row_ref")),
    )
    op.create_index(op.f("ix_rating_row_part_type_id"), "rating_row", ["part_type_id"])

    op.create_table(
        "slot",
        sa.Column("id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("ref", sa.String(length=80), nullable=True),
        sa.Column("unit_type_id", sa.Integer(), nullable=True),
        sa.Column("assembly_type_id", sa.Integer(), nullable=True),
        sa.Column("name", sa.String(length=60), nullable=False),
        sa.Column("kind", sa.String(length=40), nullable=False),
        sa.Column("critical", sa.Boolean(), nullable=False),
        sa.Column("ordinal", sa.Integer(), nullable=False),
        sa.Column("flow_place", sa.Integer(), nullable=True),
        sa.Column("oxygen_side", sa.Boolean(), nullable=False),
        sa.ForeignKeyConstraint(["assembly_type_id"], ["part_type.id"], name=op.f("fk_slot_assembly_type_id")),
        sa.ForeignKeyConstraint(["unit_type_id"], ["unit_type.id"], name=op.f("fk_slot_unit_type_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_slot")),
        sa.UniqueConstraint("ref", name=op.f("uq_slot_ref")),
    )
    op.create_index(op.f("ix_slot_assembly_type_id"), "slot", ["assembly_type_id"])
    op.create_index(op.f("ix_slot_unit_type_id"), "slot", ["unit_type_id"])

    op.create_table(
        "unit",
        sa.Column("id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("ref", sa.String(length=80), nullable=True),
        sa.Column("tag", sa.String(length=30), nullable=False),
        sa.Column("former_tag", sa.String(length=30), nullable=True),
        sa.Column("unit_type_id", sa.Integer(), nullable=False),
        sa.Column("serial", sa.String(length=60), nullable=False),
        sa.Column("owner_id", sa.Integer(), nullable=False),
        sa.Column("place_id", sa.Integer(), nullable=True),
        sa.Column("in_service_on", sa.Date(), nullable=False),
        sa.Column("retired_on", sa.Date(), nullable=True),
        sa.Column("harness", sa.String(length=20), nullable=True),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(["owner_id"], ["owner.id"], name=op.f("fk_unit_owner_id")),
        sa.ForeignKeyConstraint(["place_id"], ["place.id"], name=op.f("fk_unit_place_id")),
        sa.ForeignKeyConstraint(["unit_type_id"], ["unit_type.id"], name=op.f("fk_unit_unit_type_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_unit")),
        sa.UniqueConstraint("former_tag", name=op.f("uq_unit_former_tag")),
        sa.UniqueConstraint("ref", name=op.f("uq_unit_ref")),
        sa.UniqueConstraint("tag", name=op.f("uq_unit_tag")),
    )
    op.create_index(op.f("ix_unit_owner_id"), "unit", ["owner_id"])
    op.create_index(op.f("ix_unit_place_id"), "unit", ["place_id"])
    op.create_index(op.f("ix_unit_unit_type_id"), "unit", ["unit_type_id"])

    op.create_table(
        "absence",
        sa.Column("id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("ref", sa.String(length=80), nullable=True),
        sa.Column("unit_id", sa.Integer(), nullable=False),
        sa.Column("place_id", sa.Integer(), nullable=True),
        sa.Column("why", sa.String(length=200), nullable=False),
        sa.Column("left_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("expected_on", sa.Date(), nullable=True),
        sa.Column("back_at", sa.DateTime(timezone=True), nullable=True),
        sa.ForeignKeyConstraint(["place_id"], ["place.id"], name=op.f("fk_absence_place_id")),
        sa.ForeignKeyConstraint(["unit_id"], ["unit.id"], name=op.f("fk_absence_unit_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_absence")),
        sa.UniqueConstraint("ref", name=op.f("uq_absence_ref")),
    )
    op.create_index(op.f("ix_absence_place_id"), "absence", ["place_id"])
    op.create_index(op.f("ix_absence_unit_id"), "absence", ["unit_id"])

    op.create_table(
        "booking_unit",
        sa.Column("id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("ref", sa.String(length=80), nullable=True),
        sa.Column("booking_id", sa.Integer(), nullable=False),
        sa.Column("unit_id", sa.Integer(), nullable=False),
        sa.Column("diver_id", sa.Integer(), nullable=True),
        sa.Column("hand_over", sa.String(length=16), nullable=True),
        sa.Column("out_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("out_by_id", sa.Integer(), nullable=True),
        sa.Column("received_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("received_by_id", sa.Integer(), nullable=True),
        sa.Column("wet", sa.Boolean(), nullable=True),
        sa.Column("flooded", sa.Boolean(), nullable=True),
        sa.Column("fault", sa.Boolean(), nullable=True),
        sa.Column("loop_minutes", sa.Float(53), nullable=True),
        sa.Column("dives", sa.Integer(), nullable=True),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.CheckConstraint(
            "hand_over IS NULL OR hand_over IN ('assembled', 'kit', 'not for diving')",
            name=op.f("ck_booking_unit_hand_over_word"),
        ),
        sa.ForeignKeyConstraint(["booking_id"], ["booking.id"], name=op.f("fk_booking_unit_booking_id")),
        sa.ForeignKeyConstraint(["diver_id"], ["person.id"], name=op.f("fk_booking_unit_diver_id")),
        sa.ForeignKeyConstraint(["out_by_id"], ["person.id"], name=op.f("fk_booking_unit_out_by_id")),
        sa.ForeignKeyConstraint(["received_by_id"], ["person.id"], name=op.f("fk_booking_unit_received_by_id")),
        sa.ForeignKeyConstraint(["unit_id"], ["unit.id"], name=op.f("fk_booking_unit_unit_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_booking_unit")),
        sa.UniqueConstraint("ref", name=op.f("uq_booking_unit_ref")),
    )
    op.create_index(op.f("ix_booking_unit_booking_id"), "booking_unit", ["booking_id"])
    op.create_index(op.f("ix_booking_unit_diver_id"), "booking_unit", ["diver_id"])
    op.create_index(op.f("ix_booking_unit_out_by_id"), "booking_unit", ["out_by_id"])
    op.create_index(op.f("ix_booking_unit_received_by_id"), "booking_unit", ["received_by_id"])
    op.create_index(op.f("ix_booking_unit_unit_id"), "booking_unit", ["unit_id"])

    op.create_table(
        "cylinder",
        sa.Column("id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("part_id", sa.Integer(), nullable=False),
        sa.Column("role", sa.String(length=12), nullable=False),
        sa.Column("size_l", sa.Float(53), nullable=False),
        sa.Column("working_bar", sa.Float(53), nullable=False),
        sa.Column("material", sa.String(length=20), nullable=True),
        sa.Column("marking", sa.String(length=60), nullable=True),
        sa.CheckConstraint(
            "role IS NULL OR role IN ('oxygen', 'diluent', 'bailout', 'drive gas')", name=op.f("ck_cylinder_role_word")
        ),
        sa.ForeignKeyConstraint(["part_id"], ["part.id"], name=op.f("fk_cylinder_part_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_cylinder")),
    )
    op.create_index(op.f("ix_cylinder_part_id"), "cylinder", ["part_id"], unique=True)

    op.create_table(
        "cylinder_fill",
        sa.Column("id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("ref", sa.String(length=80), nullable=True),
        sa.Column("part_id", sa.Integer(), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("oxygen_asked", sa.Float(53), nullable=False),
        sa.Column("helium_asked", sa.Float(53), nullable=False),
        sa.Column("start_bar", sa.Float(53), nullable=True),
        sa.Column("end_bar", sa.Float(53), nullable=False),
        sa.Column("person_id", sa.Integer(), nullable=True),
        sa.Column("batch", sa.String(length=60), nullable=True),
        sa.Column("oxygen_compatible", sa.Boolean(), nullable=True),
        sa.ForeignKeyConstraint(["part_id"], ["part.id"], name=op.f("fk_cylinder_fill_part_id")),
        sa.ForeignKeyConstraint(["person_id"], ["person.id"], name=op.f("fk_cylinder_fill_person_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_cylinder_fill")),
        sa.UniqueConstraint("ref", name=op.f("uq_cylinder_fill_ref")),
    )
    op.create_index(op.f("ix_cylinder_fill_part_id"), "cylinder_fill", ["part_id"])
    op.create_index(op.f("ix_cylinder_fill_person_id"), "cylinder_fill", ["person_id"])

    op.create_table(
        "gas_analysis",
        sa.Column("id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("ref", sa.String(length=80), nullable=True),
        sa.Column("part_id", sa.Integer(), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("oxygen_percent", sa.Float(53), nullable=True),
        sa.Column("helium_percent", sa.Float(53), nullable=True),
        sa.Column("analyser_id", sa.Integer(), nullable=True),
        sa.Column("person_id", sa.Integer(), nullable=True),
        sa.Column("by_diver", sa.Boolean(), nullable=False),
        sa.ForeignKeyConstraint(["analyser_id"], ["test_equipment.id"], name=op.f("fk_gas_analysis_analyser_id")),
        sa.ForeignKeyConstraint(["part_id"], ["part.id"], name=op.f("fk_gas_analysis_part_id")),
        sa.ForeignKeyConstraint(["person_id"], ["person.id"], name=op.f("fk_gas_analysis_person_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_gas_analysis")),
        sa.UniqueConstraint("ref", name=op.f("uq_gas_analysis_ref")),
    )
    op.create_index(op.f("ix_gas_analysis_analyser_id"), "gas_analysis", ["analyser_id"])
    op.create_index(op.f("ix_gas_analysis_part_id"), "gas_analysis", ["part_id"])
    op.create_index(op.f("ix_gas_analysis_person_id"), "gas_analysis", ["person_id"])

    op.create_table(
        "hold",
        sa.Column("id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("ref", sa.String(length=80), nullable=True),
        sa.Column("unit_id", sa.Integer(), nullable=True),
        sa.Column("part_id", sa.Integer(), nullable=True),
        sa.Column("kind", sa.String(length=20), nullable=False),
        sa.Column("reason", sa.String(), nullable=False),
        sa.Column("placed_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("placed_by_id", sa.Integer(), nullable=False),
        sa.Column("lifted_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("lifted_by_id", sa.Integer(), nullable=True),
        sa.Column("lift_reason", sa.String(), nullable=True),
        sa.CheckConstraint(
            "kind IS NULL OR kind IN ('manual', 'incident', 'notice', 'cell', 'received')",
            name=op.f("ck_hold_kind_word"),
        ),
        sa.ForeignKeyConstraint(["lifted_by_id"], ["person.id"], name=op.f("fk_hold_lifted_by_id")),
        sa.ForeignKeyConstraint(["part_id"], ["part.id"], name=op.f("fk_hold_part_id")),
        sa.ForeignKeyConstraint(["placed_by_id"], ["person.id"], name=op.f("fk_hold_placed_by_id")),
        sa.ForeignKeyConstraint(["unit_id"], ["unit.id"], name=op.f("fk_hold_unit_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_hold")),
        sa.UniqueConstraint("ref", name=op.f("uq_hold_ref")),
    )
    op.create_index(op.f("ix_hold_lifted_by_id"), "hold", ["lifted_by_id"])
    op.create_index(op.f("ix_hold_part_id"), "hold", ["part_id"])
    op.create_index(op.f("ix_hold_placed_by_id"), "hold", ["placed_by_id"])
    op.create_index(op.f("ix_hold_unit_id"), "hold", ["unit_id"])

    op.create_table(
        "notice_done",
        sa.Column("id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("ref", sa.String(length=80), nullable=True),
        sa.Column("notice_id", sa.Integer(), nullable=False),
        sa.Column("unit_id", sa.Integer(), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("person_id", sa.Integer(), nullable=False),
        sa.Column("note", sa.String(), nullable=True),
        sa.ForeignKeyConstraint(["notice_id"], ["notice.id"], name=op.f("fk_notice_done_notice_id")),
        sa.ForeignKeyConstraint(["person_id"], ["person.id"], name=op.f("fk_notice_done_person_id")),
        sa.ForeignKeyConstraint(["unit_id"], ["unit.id"], name=op.f("fk_notice_done_unit_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_notice_done")),
        sa.UniqueConstraint("ref", name=op.f("uq_notice_done_ref")),
    )
    op.create_index(op.f("ix_notice_done_notice_id"), "notice_done", ["notice_id"])
    op.create_index(op.f("ix_notice_done_person_id"), "notice_done", ["person_id"])
    op.create_index(op.f("ix_notice_done_unit_id"), "notice_done", ["unit_id"])

    op.create_table(
        "part_test",
        sa.Column("id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("ref", sa.String(length=80), nullable=True),
        sa.Column("part_id", sa.Integer(), nullable=False),
        sa.Column("kind", sa.String(length=20), nullable=False),
        sa.Column("done_on", sa.Date(), nullable=False),
        sa.Column("precision", sa.String(length=10), nullable=False),
        sa.Column("passed", sa.Boolean(), nullable=False),
        sa.Column("done_by", sa.String(length=120), nullable=True),
        sa.CheckConstraint(
            "kind IS NULL OR kind IN ('hydrostatic', 'visual', 'service', 'oxygen clean', 'calibration')",
            name=op.f("ck_part_test_kind_word"),
        ),
        sa.CheckConstraint(
            "precision IS NULL OR precision IN ('day', 'month', 'quarter')", name=op.f("ck_part_test_precision_word")
        ),
        sa.ForeignKeyConstraint(["part_id"], ["part.id"], name=op.f("fk_part_test_part_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_part_test")),
        sa.UniqueConstraint("ref", name=op.f("uq_part_test_ref")),
    )
    op.create_index(op.f("ix_part_test_part_id"), "part_test", ["part_id"])

    op.create_table(
        "reader",
        sa.Column("id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("ref", sa.String(length=80), nullable=True),
        sa.Column("unit_type_id", sa.Integer(), nullable=False),
        sa.Column("slot_id", sa.Integer(), nullable=True),
        sa.Column("name", sa.String(length=40), nullable=False),
        sa.Column("kind", sa.String(length=20), nullable=False),
        sa.Column("ordinal", sa.Integer(), nullable=False),
        sa.Column("zero_offset_mv", sa.Float(53), nullable=False),
        sa.CheckConstraint(
            "kind IS NULL OR kind IN ('handset', 'head-up display', 'bench meter')", name=op.f("ck_reader_kind_word")
        ),
        sa.ForeignKeyConstraint(["slot_id"], ["slot.id"], name=op.f("fk_reader_slot_id")),
        sa.ForeignKeyConstraint(["unit_type_id"], ["unit_type.id"], name=op.f("fk_reader_unit_type_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_reader")),
        sa.UniqueConstraint("ref", name=op.f("uq_reader_ref")),
    )
    op.create_index(op.f("ix_reader_slot_id"), "reader", ["slot_id"])
    op.create_index(op.f("ix_reader_unit_type_id"), "reader", ["unit_type_id"])

    op.create_table(
        "ticket",
        sa.Column("id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("ref", sa.String(length=80), nullable=True),
        sa.Column("year", sa.Integer(), nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("unit_id", sa.Integer(), nullable=False),
        sa.Column("cause", sa.String(length=20), nullable=False),
        sa.Column("reason", sa.String(), nullable=False),
        sa.Column("critical", sa.Boolean(), nullable=False),
        sa.Column("opened_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("opened_by_id", sa.Integer(), nullable=False),
        sa.Column("minutes", sa.Float(53), nullable=False),
        sa.Column("refers_to_id", sa.Integer(), nullable=True),
        sa.Column("signed_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("signed_by_id", sa.Integer(), nullable=True),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.CheckConstraint(
            "cause IS NULL OR cause IN ('due item', 'hold', 'hand-back', 'failed test', 'course', 'by hand', 'turn-round')",
            name=op.f("ck_ticket_cause_word"),
        ),
        sa.ForeignKeyConstraint(["opened_by_id"], ["person.id"], name=op.f("fk_ticket_opened_by_id")),
        sa.ForeignKeyConstraint(["refers_to_id"], ["ticket.id"], name=op.f("fk_ticket_refers_to_id")),
        sa.ForeignKeyConstraint(["signed_by_id"], ["person.id"], name=op.f("fk_ticket_signed_by_id")),
        sa.ForeignKeyConstraint(["unit_id"], ["unit.id"], name=op.f("fk_ticket_unit_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_ticket")),
        sa.UniqueConstraint("ref", name=op.f("uq_ticket_ref")),
        sa.UniqueConstraint("year", "number", name="uq_ticket_year_number"),
    )
    op.create_index(op.f("ix_ticket_opened_by_id"), "ticket", ["opened_by_id"])
    op.create_index(op.f("ix_ticket_refers_to_id"), "ticket", ["refers_to_id"])
    op.create_index(op.f("ix_ticket_signed_by_id"), "ticket", ["signed_by_id"])
    op.create_index(op.f("ix_ticket_unit_id"), "ticket", ["unit_id"])

    op.create_table(
        "bench_test",
        sa.Column("id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("ref", sa.String(length=80), nullable=True),
        sa.Column("unit_id", sa.Integer(), nullable=False),
        sa.Column("part_id", sa.Integer(), nullable=True),
        sa.Column("kind", sa.String(length=24), nullable=False),
        sa.Column("direction", sa.String(length=10), nullable=True),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("person_id", sa.Integer(), nullable=True),
        sa.Column("ticket_id", sa.Integer(), nullable=True),
        sa.Column("equipment_id", sa.Integer(), nullable=True),
        sa.Column("held", sa.Boolean(), nullable=True),
        sa.Column("watched_minutes", sa.Float(53), nullable=True),
        sa.Column("value", sa.Float(53), nullable=True),
        sa.Column("unit", sa.String(length=12), nullable=True),
        sa.Column("supply_bar", sa.Float(53), nullable=True),
        sa.Column("result", sa.String(length=8), nullable=False),
        sa.Column("supersedes_id", sa.Integer(), nullable=True),
        sa.Column("note", sa.String(), nullable=True),
        sa.CheckConstraint(
            "direction IS NULL OR direction IN ('inhale', 'exhale', 'both')", name=op.f("ck_bench_test_direction_word")
        ),
        sa.CheckConstraint(
            "kind IS NULL OR kind IN ('one-way valve', 'loop negative', 'loop positive', 'intermediate pressure', 'injector flow', 'opening pressure', 'bailout valve', 'mouthpiece valve', 'solenoid', 'addition valve', 'battery voltage', 'alarms', 'set-point held')",
            name=op.f("ck_bench_test_kind_word"),
        ),
        sa.CheckConstraint(
            "result IS NULL OR result IN ('pass', 'watch', 'repeat', 'reject')", name=op.f("ck_bench_test_result_word")
        ),
        sa.ForeignKeyConstraint(["equipment_id"], ["test_equipment.id"], name=op.f("fk_bench_test_equipment_id")),
        sa.ForeignKeyConstraint(["part_id"], ["part.id"], name=op.f("fk_bench_test_part_id")),
        sa.ForeignKeyConstraint(["person_id"], ["person.id"], name=op.f("fk_bench_test_person_id")),
        sa.ForeignKeyConstraint(["supersedes_id"], ["bench_test.id"], name=op.f("fk_bench_test_supersedes_id")),
        sa.ForeignKeyConstraint(["ticket_id"], ["ticket.id"], name=op.f("fk_bench_test_ticket_id")),
        sa.ForeignKeyConstraint(["unit_id"], ["unit.id"], name=op.f("fk_bench_test_unit_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_bench_test")),
        sa.UniqueConstraint("ref", name=op.f("uq_bench_test_ref")),
    )
    op.create_index(op.f("ix_bench_test_equipment_id"), "bench_test", ["equipment_id"])
    op.create_index(op.f("ix_bench_test_part_id"), "bench_test", ["part_id"])
    op.create_index(op.f("ix_bench_test_person_id"), "bench_test", ["person_id"])
    op.create_index(op.f("ix_bench_test_supersedes_id"), "bench_test", ["supersedes_id"])
    op.create_index(op.f("ix_bench_test_ticket_id"), "bench_test", ["ticket_id"])
    op.create_index(op.f("ix_bench_test_unit_id"), "bench_test", ["unit_id"])

    op.create_table(
        "calibration",
        sa.Column("id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("ref", sa.String(length=80), nullable=True),
        sa.Column("unit_id", sa.Integer(), nullable=False),
        sa.Column("session_id", sa.Integer(), nullable=True),
        sa.Column("person_id", sa.Integer(), nullable=True),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("made", sa.String(length=10), nullable=False),
        sa.Column("pressure_mbar", sa.Float(53), nullable=False),
        sa.Column("pressure_source", sa.String(length=12), nullable=False),
        sa.Column("temperature_c", sa.Float(53), nullable=False),
        sa.Column("oxygen_temperature_c", sa.Float(53), nullable=True),
        sa.Column("humidity", sa.Float(53), nullable=True),
        sa.Column("oxygen_shown_percent", sa.Float(53), nullable=True),
        sa.Column("analyser_id", sa.Integer(), nullable=True),
        sa.Column("barometer_id", sa.Integer(), nullable=True),
        sa.Column("head", sa.String(length=8), nullable=False),
        sa.Column("vented", sa.String(length=8), nullable=False),
        sa.Column("over_pressure_mbar", sa.Float(53), nullable=True),
        sa.Column("settled", sa.String(length=8), nullable=False),
        sa.Column("comparison_id", sa.Integer(), nullable=True),
        sa.Column("ticket_id", sa.Integer(), nullable=True),
        sa.Column("supersedes_id", sa.Integer(), nullable=True),
        sa.Column("supersedes_reason", sa.String(), nullable=True),
        sa.Column("note", sa.String(), nullable=True),
        sa.CheckConstraint("head IS NULL OR head IN ('dry', 'damp', 'unknown')", name=op.f("ck_calibration_head_word")),
        sa.CheckConstraint("made IS NULL OR made IN ('workshop', 'diver')", name=op.f("ck_calibration_made_word")),
        sa.CheckConstraint(
            "pressure_source IS NULL OR pressure_source IN ('measured', 'altitude')",
            name=op.f("ck_calibration_pressure_source_word"),
        ),
        sa.CheckConstraint(
            "settled IS NULL OR settled IN ('yes', 'no', 'unknown')", name=op.f("ck_calibration_settled_word")
        ),
        sa.CheckConstraint(
            "vented IS NULL OR vented IN ('yes', 'no', 'unknown')", name=op.f("ck_calibration_vented_word")
        ),
        sa.ForeignKeyConstraint(["analyser_id"], ["test_equipment.id"], name=op.f("fk_calibration_analyser_id")),
        sa.ForeignKeyConstraint(["barometer_id"], ["test_equipment.id"], name=op.f("fk_calibration_barometer_id")),
        sa.ForeignKeyConstraint(["comparison_id"], ["calibration.id"], name=op.f("fk_calibration_comparison_id")),
        sa.ForeignKeyConstraint(["person_id"], ["person.id"], name=op.f("fk_calibration_person_id")),
        sa.ForeignKeyConstraint(["session_id"], ["bench_session.id"], name=op.f("fk_calibration_session_id")),
        sa.ForeignKeyConstraint(["supersedes_id"], ["calibration.id"], name=op.f("fk_calibration_supersedes_id")),
        sa.ForeignKeyConstraint(["ticket_id"], ["ticket.id"], name=op.f("fk_calibration_ticket_id")),
        sa.ForeignKeyConstraint(["unit_id"], ["unit.id"], name=op.f("fk_calibration_unit_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_calibration")),
        sa.UniqueConstraint("ref", name=op.f("uq_calibration_ref")),
    )
    op.create_index(op.f("ix_calibration_analyser_id"), "calibration", ["analyser_id"])
    op.create_index(op.f("ix_calibration_at"), "calibration", ["at"])
    op.create_index(op.f("ix_calibration_barometer_id"), "calibration", ["barometer_id"])
    op.create_index(op.f("ix_calibration_comparison_id"), "calibration", ["comparison_id"])
    op.create_index(op.f("ix_calibration_person_id"), "calibration", ["person_id"])
    op.create_index(op.f("ix_calibration_session_id"), "calibration", ["session_id"])
    op.create_index(op.f("ix_calibration_supersedes_id"), "calibration", ["supersedes_id"])
    op.create_index(op.f("ix_calibration_ticket_id"), "calibration", ["ticket_id"])
    op.create_index(op.f("ix_calibration_unit_id"), "calibration", ["unit_id"])

    op.create_table(
        "disinfection",
        sa.Column("id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("ref", sa.String(length=80), nullable=True),
        sa.Column("unit_id", sa.Integer(), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("agent", sa.String(length=80), nullable=False),
        sa.Column("strength", sa.String(length=40), nullable=False),
        sa.Column("contact_minutes", sa.Float(53), nullable=False),
        sa.Column("rinsed", sa.Boolean(), nullable=False),
        sa.Column("dry_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("person_id", sa.Integer(), nullable=True),
        sa.Column("ticket_id", sa.Integer(), nullable=True),
        sa.ForeignKeyConstraint(["person_id"], ["person.id"], name=op.f("fk_disinfection_person_id")),
        sa.ForeignKeyConstraint(["ticket_id"], ["ticket.id"], name=op.f("fk_disinfection_ticket_id")),
        sa.ForeignKeyConstraint(["unit_id"], ["unit.id"], name=op.f("fk_disinfection_unit_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_disinfection")),
        sa.UniqueConstraint("ref", name=op.f("uq_disinfection_ref")),
    )
    op.create_index(op.f("ix_disinfection_person_id"), "disinfection", ["person_id"])
    op.create_index(op.f("ix_disinfection_ticket_id"), "disinfection", ["ticket_id"])
    op.create_index(op.f("ix_disinfection_unit_id"), "disinfection", ["unit_id"])

    op.create_table(
        "fill",
        sa.Column("id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("ref", sa.String(length=80), nullable=True),
        sa.Column("part_id", sa.Integer(), nullable=False),
        sa.Column("container_id", sa.Integer(), nullable=True),
        sa.Column("packed_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("packed_by_id", sa.Integer(), nullable=True),
        sa.Column("mass_g", sa.Float(53), nullable=True),
        sa.Column("checked", sa.Boolean(), nullable=True),
        sa.Column("diver_id", sa.Integer(), nullable=True),
        sa.Column("booking_unit_id", sa.Integer(), nullable=True),
        sa.Column("wetted_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("closed_up_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("discarded_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("discarded_by_id", sa.Integer(), nullable=True),
        sa.Column("why_discarded", sa.String(length=200), nullable=True),
        sa.ForeignKeyConstraint(["booking_unit_id"], ["booking_unit.id"], name=op.f("fk_fill_booking_unit_id")),
        sa.ForeignKeyConstraint(["container_id"], ["container.id"], name=op.f("fk_fill_container_id")),
        sa.ForeignKeyConstraint(["discarded_by_id"], ["person.id"], name=op.f("fk_fill_discarded_by_id")),
        sa.ForeignKeyConstraint(["diver_id"], ["person.id"], name=op.f("fk_fill_diver_id")),
        sa.ForeignKeyConstraint(["packed_by_id"], ["person.id"], name=op.f("fk_fill_packed_by_id")),
        sa.ForeignKeyConstraint(["part_id"], ["part.id"], name=op.f("fk_fill_part_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_fill")),
        sa.UniqueConstraint("ref", name=op.f("uq_fill_ref")),
    )
    op.create_index(op.f("ix_fill_booking_unit_id"), "fill", ["booking_unit_id"])
    op.create_index(op.f("ix_fill_container_id"), "fill", ["container_id"])
    op.create_index(op.f("ix_fill_discarded_by_id"), "fill", ["discarded_by_id"])
    op.create_index(op.f("ix_fill_diver_id"), "fill", ["diver_id"])
    op.create_index(op.f("ix_fill_packed_by_id"), "fill", ["packed_by_id"])
    op.create_index(op.f("ix_fill_part_id"), "fill", ["part_id"])

    op.create_table(
        "finding",
        sa.Column("id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("ref", sa.String(length=80), nullable=True),
        sa.Column("ticket_id", sa.Integer(), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("person_id", sa.Integer(), nullable=True),
        sa.Column("text", sa.String(), nullable=False),
        sa.ForeignKeyConstraint(["person_id"], ["person.id"], name=op.f("fk_finding_person_id")),
        sa.ForeignKeyConstraint(["ticket_id"], ["ticket.id"], name=op.f("fk_finding_ticket_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_finding")),
        sa.UniqueConstraint("ref", name=op.f("uq_finding_ref")),
    )
    op.create_index(op.f("ix_finding_person_id"), "finding", ["person_id"])
    op.create_index(op.f("ix_finding_ticket_id"), "finding", ["ticket_id"])

    op.create_table(
        "fitting",
        sa.Column("id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("ref", sa.String(length=80), nullable=True),
        sa.Column("part_id", sa.Integer(), nullable=False),
        sa.Column("slot_id", sa.Integer(), nullable=False),
        sa.Column("unit_id", sa.Integer(), nullable=True),
        sa.Column("host_part_id", sa.Integer(), nullable=True),
        sa.Column("fitted_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("fitted_by_id", sa.Integer(), nullable=True),
        sa.Column("ticket_id", sa.Integer(), nullable=True),
        sa.Column("removed_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("removed_by_id", sa.Integer(), nullable=True),
        sa.Column("removal_ticket_id", sa.Integer(), nullable=True),
        sa.Column("why_removed", sa.String(length=20), nullable=True),
        sa.Column("last_good_day", sa.Date(), nullable=True),
        sa.Column("last_good_basis", sa.String(length=40), nullable=True),
        sa.CheckConstraint(
            "why_removed IS NULL OR why_removed IN ('age', 'low output', 'fault', 'service', 'moved', 'wrong part', 'other')",
            name=op.f("ck_fitting_why_removed_word"),
        ),
        sa.ForeignKeyConstraint(["fitted_by_id"], ["person.id"], name=op.f("fk_fitting_fitted_by_id")),
        sa.ForeignKeyConstraint(["host_part_id"], ["part.id"], name=op.f("fk_fitting_host_part_id")),
        sa.ForeignKeyConstraint(["part_id"], ["part.id"], name=op.f("fk_fitting_part_id")),
        sa.ForeignKeyConstraint(["removal_ticket_id"], ["ticket.id"], name=op.f("fk_fitting_removal_ticket_id")),
        sa.ForeignKeyConstraint(["removed_by_id"], ["person.id"], name=op.f("fk_fitting_removed_by_id")),
        sa.ForeignKeyConstraint(["slot_id"], ["slot.id"], name=op.f("fk_fitting_slot_id")),
        sa.ForeignKeyConstraint(["ticket_id"], ["ticket.id"], name=op.f("fk_fitting_ticket_id")),
        sa.ForeignKeyConstraint(["unit_id"], ["unit.id"], name=op.f("fk_fitting_unit_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_fitting")),
        sa.UniqueConstraint("ref", name=op.f("uq_fitting_ref")),
    )
    op.create_index(op.f("ix_fitting_fitted_by_id"), "fitting", ["fitted_by_id"])
    op.create_index(op.f("ix_fitting_host_part_id"), "fitting", ["host_part_id"])
    op.create_index(op.f("ix_fitting_part_id"), "fitting", ["part_id"])
    op.create_index(op.f("ix_fitting_removal_ticket_id"), "fitting", ["removal_ticket_id"])
    op.create_index(op.f("ix_fitting_removed_by_id"), "fitting", ["removed_by_id"])
    op.create_index(op.f("ix_fitting_slot_id"), "fitting", ["slot_id"])
    op.create_index(op.f("ix_fitting_ticket_id"), "fitting", ["ticket_id"])
    op.create_index(op.f("ix_fitting_unit_id"), "fitting", ["unit_id"])
    op.create_index(
        op.f("uq_fitting_host_slot"),
        "fitting",
        ["host_part_id", "slot_id"],
        unique=True,
        sqlite_where=sa.text("removed_at IS NULL AND host_part_id IS NOT NULL"),
        postgresql_where=sa.text("removed_at IS NULL AND host_part_id IS NOT NULL"),
    )
    op.create_index(
        op.f("uq_fitting_one_place"),
        "fitting",
        ["part_id"],
        unique=True,
        sqlite_where=sa.text("removed_at IS NULL"),
        postgresql_where=sa.text("removed_at IS NULL"),
    )
    op.create_index(
        op.f("uq_fitting_unit_slot"),
        "fitting",
        ["unit_id", "slot_id"],
        unique=True,
        sqlite_where=sa.text("removed_at IS NULL AND unit_id IS NOT NULL"),
        postgresql_where=sa.text("removed_at IS NULL AND unit_id IS NOT NULL"),
    )

    op.create_table(
        "hire_note",
        sa.Column("id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("booking_unit_id", sa.Integer(), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("text", sa.String(), nullable=False),
        sa.ForeignKeyConstraint(["booking_unit_id"], ["booking_unit.id"], name=op.f("fk_hire_note_booking_unit_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_hire_note")),
    )
    op.create_index(op.f("ix_hire_note_booking_unit_id"), "hire_note", ["booking_unit_id"])

    op.create_table(
        "opening",
        sa.Column("id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("ref", sa.String(length=80), nullable=True),
        sa.Column("unit_id", sa.Integer(), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("kind", sa.String(length=10), nullable=False),
        sa.Column("what", sa.String(length=200), nullable=False),
        sa.Column("person_id", sa.Integer(), nullable=True),
        sa.Column("ticket_id", sa.Integer(), nullable=True),
        sa.CheckConstraint("kind IS NULL OR kind IN ('workshop', 'routine')", name=op.f("ck_opening_kind_word")),
        sa.ForeignKeyConstraint(["person_id"], ["person.id"], name=op.f("fk_opening_person_id")),
        sa.ForeignKeyConstraint(["ticket_id"], ["ticket.id"], name=op.f("fk_opening_ticket_id")),
        sa.ForeignKeyConstraint(["unit_id"], ["unit.id"], name=op.f("fk_opening_unit_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_opening")),
        sa.UniqueConstraint("ref", name=op.f("uq_opening_ref")),
    )
    op.create_index(op.f("ix_opening_person_id"), "opening", ["person_id"])
    op.create_index(op.f("ix_opening_ticket_id"), "opening", ["ticket_id"])
    op.create_index(op.f("ix_opening_unit_id"), "opening", ["unit_id"])

    op.create_table(
        "reader_cell",
        sa.Column("id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("ref", sa.String(length=80), nullable=True),
        sa.Column("reader_id", sa.Integer(), nullable=False),
        sa.Column("cell_slot_id", sa.Integer(), nullable=False),
        sa.Column("shows", sa.String(length=10), nullable=False),
        sa.Column("resolution", sa.Float(53), nullable=True),
        sa.CheckConstraint(
            "shows IS NULL OR shows IN ('mV', 'pO2', 'nothing')", name=op.f("ck_reader_cell_shows_word")
        ),
        sa.ForeignKeyConstraint(["cell_slot_id"], ["slot.id"], name=op.f("fk_reader_cell_cell_slot_id")),
        sa.ForeignKeyConstraint(["reader_id"], ["reader.id"], name=op.f("fk_reader_cell_reader_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_reader_cell")),
        sa.UniqueConstraint("ref", name=op.f("uq_reader_cell_ref")),
    )
    op.create_index(op.f("ix_reader_cell_cell_slot_id"), "reader_cell", ["cell_slot_id"])
    op.create_index(op.f("ix_reader_cell_reader_id"), "reader_cell", ["reader_id"])

    op.create_table(
        "task",
        sa.Column("id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("ref", sa.String(length=80), nullable=True),
        sa.Column("ticket_id", sa.Integer(), nullable=False),
        sa.Column("ordinal", sa.Integer(), nullable=False),
        sa.Column("text", sa.String(length=300), nullable=False),
        sa.Column("critical", sa.Boolean(), nullable=False),
        sa.Column("state", sa.String(length=8), nullable=False),
        sa.Column("minutes", sa.Float(53), nullable=True),
        sa.Column("settled_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("person_id", sa.Integer(), nullable=True),
        sa.Column("put_off_reason", sa.String(), nullable=True),
        sa.Column("times_put_off", sa.Integer(), nullable=False),
        sa.CheckConstraint("state IS NULL OR state IN ('to do', 'done', 'put off')", name=op.f("ck_task_state_word")),
        sa.ForeignKeyConstraint(["person_id"], ["person.id"], name=op.f("fk_task_person_id")),
        sa.ForeignKeyConstraint(["ticket_id"], ["ticket.id"], name=op.f("fk_task_ticket_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_task")),
        sa.UniqueConstraint("ref", name=op.f("uq_task_ref")),
    )
    op.create_index(op.f("ix_task_person_id"), "task", ["person_id"])
    op.create_index(op.f("ix_task_ticket_id"), "task", ["ticket_id"])

    op.create_table(
        "calibration_outcome",
        sa.Column("id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("calibration_id", sa.Integer(), nullable=False),
        sa.Column("part_id", sa.Integer(), nullable=False),
        sa.Column("slot_id", sa.Integer(), nullable=False),
        sa.Column("verdict", sa.String(length=8), nullable=False),
        sa.Column("linearity", sa.Float(53), nullable=True),
        sa.Column("expanded_u", sa.Float(53), nullable=True),
        sa.Column("margin", sa.Float(53), nullable=True),
        sa.Column("air_mv", sa.Float(53), nullable=True),
        sa.Column("oxygen_mv", sa.Float(53), nullable=True),
        sa.Column("reader_gap_bar", sa.Float(53), nullable=True),
        sa.Column("verified_up_to_bar", sa.Float(53), nullable=True),
        sa.Column("blame", sa.String(length=12), nullable=True),
        sa.Column("finding", sa.String(), nullable=False),
        sa.Column("next_step", sa.String(), nullable=False),
        sa.CheckConstraint(
            "verdict IS NULL OR verdict IN ('pass', 'watch', 'repeat', 'reject')",
            name=op.f("ck_calibration_outcome_verdict_word"),
        ),
        sa.ForeignKeyConstraint(
            ["calibration_id"], ["calibration.id"], name=op.f("fk_calibration_outcome_calibration_id")
        ),
        sa.ForeignKeyConstraint(["part_id"], ["part.id"], name=op.f("fk_calibration_outcome_part_id")),
        sa.ForeignKeyConstraint(["slot_id"], ["slot.id"], name=op.f("fk_calibration_outcome_slot_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_calibration_outcome")),
    )
    op.create_index(op.f("ix_calibration_outcome_calibration_id"), "calibration_outcome", ["calibration_id"])
    op.create_index(op.f("ix_calibration_outcome_part_id"), "calibration_outcome", ["part_id"])

    op.create_table(
        "calibration_reading",
        sa.Column("id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("calibration_id", sa.Integer(), nullable=False),
        sa.Column("part_id", sa.Integer(), nullable=False),
        sa.Column("slot_id", sa.Integer(), nullable=False),
        sa.Column("reader_id", sa.Integer(), nullable=False),
        sa.Column("point", sa.String(length=8), nullable=False),
        sa.Column("mv", sa.Float(53), nullable=True),
        sa.Column("po2_shown_bar", sa.Float(53), nullable=True),
        sa.Column("pot_bar", sa.Float(53), nullable=True),
        sa.Column("seconds", sa.Float(53), nullable=True),
        sa.CheckConstraint(
            "point IS NULL OR point IN ('zero', 'air', 'oxygen', 'pot', 'settling')",
            name=op.f("ck_calibration_reading_point_word"),
        ),
        sa.ForeignKeyConstraint(
            ["calibration_id"], ["calibration.id"], name=op.f("fk_calibration_reading_calibration_id")
        ),
        sa.ForeignKeyConstraint(["part_id"], ["part.id"], name=op.f("fk_calibration_reading_part_id")),
        sa.ForeignKeyConstraint(["reader_id"], ["reader.id"], name=op.f("fk_calibration_reading_reader_id")),
        sa.ForeignKeyConstraint(["slot_id"], ["slot.id"], name=op.f("fk_calibration_reading_slot_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_calibration_reading")),
    )
    op.create_index(op.f("ix_calibration_reading_calibration_id"), "calibration_reading", ["calibration_id"])
    op.create_index(op.f("ix_calibration_reading_part_id"), "calibration_reading", ["part_id"])

    op.create_table(
        "handset_setting",
        sa.Column("id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("ref", sa.String(length=80), nullable=True),
        sa.Column("calibration_id", sa.Integer(), nullable=True),
        sa.Column("unit_id", sa.Integer(), nullable=False),
        sa.Column("reader_id", sa.Integer(), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("fraction_set", sa.Float(53), nullable=True),
        sa.Column("pressure_set_mbar", sa.Float(53), nullable=True),
        sa.Column("shown_oxygen_bar", sa.Float(53), nullable=True),
        sa.Column("shown_air_bar", sa.Float(53), nullable=True),
        sa.ForeignKeyConstraint(["calibration_id"], ["calibration.id"], name=op.f("fk_handset_setting_calibration_id")),
        sa.ForeignKeyConstraint(["reader_id"], ["reader.id"], name=op.f("fk_handset_setting_reader_id")),
        sa.ForeignKeyConstraint(["unit_id"], ["unit.id"], name=op.f("fk_handset_setting_unit_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_handset_setting")),
        sa.UniqueConstraint("ref", name=op.f("uq_handset_setting_ref")),
    )
    op.create_index(op.f("ix_handset_setting_calibration_id"), "handset_setting", ["calibration_id"])
    op.create_index(op.f("ix_handset_setting_reader_id"), "handset_setting", ["reader_id"])
    op.create_index(op.f("ix_handset_setting_unit_id"), "handset_setting", ["unit_id"])

    op.create_table(
        "run",
        sa.Column("id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("ref", sa.String(length=80), nullable=True),
        sa.Column("fill_id", sa.Integer(), nullable=False),
        sa.Column("unit_id", sa.Integer(), nullable=False),
        sa.Column("booking_unit_id", sa.Integer(), nullable=True),
        sa.Column("diver_id", sa.Integer(), nullable=True),
        sa.Column("started_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("minutes", sa.Float(53), nullable=False),
        sa.Column("clock", sa.String(length=6), nullable=False),
        sa.Column("dives", sa.Integer(), nullable=False),
        sa.Column("coldest_c", sa.Float(53), nullable=True),
        sa.Column("deepest_m", sa.Float(53), nullable=True),
        sa.Column("co2_l_min", sa.Float(53), nullable=True),
        sa.Column("seen_at_6m_bar", sa.Float(53), nullable=True),
        sa.CheckConstraint("clock IS NULL OR clock IN ('loop', 'dive')", name=op.f("ck_run_clock_word")),
        sa.ForeignKeyConstraint(["booking_unit_id"], ["booking_unit.id"], name=op.f("fk_run_booking_unit_id")),
        sa.ForeignKeyConstraint(["diver_id"], ["person.id"], name=op.f("fk_run_diver_id")),
        sa.ForeignKeyConstraint(["fill_id"], ["fill.id"], name=op.f("fk_run_fill_id")),
        sa.ForeignKeyConstraint(["unit_id"], ["unit.id"], name=op.f("fk_run_unit_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_run")),
        sa.UniqueConstraint("ref", name=op.f("uq_run_ref")),
    )
    op.create_index(op.f("ix_run_booking_unit_id"), "run", ["booking_unit_id"])
    op.create_index(op.f("ix_run_diver_id"), "run", ["diver_id"])
    op.create_index(op.f("ix_run_fill_id"), "run", ["fill_id"])
    op.create_index(op.f("ix_run_unit_id"), "run", ["unit_id"])
