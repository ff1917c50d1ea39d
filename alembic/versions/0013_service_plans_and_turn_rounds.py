"""Service plans, turn-round cards, disinfection baths, drying, firmware that a type allows, and handsets reset.

Revision 0013, after 0012.
"""

from collections.abc import Sequence

import sqlalchemy as sa
from alembic import op

revision: str = "0013"
down_revision: str | Sequence[str] | None = "0012"
branch_labels: str | Sequence[str] | None = None
depends_on: str | Sequence[str] | None = None


def upgrade() -> None:
    """Bring the tables up to this revision; what was done before is not known to any plan, which makes it due."""
    op.create_table(
        "service_task",
        sa.Column("id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("ref", sa.String(length=80), nullable=True),
        sa.Column("unit_type_id", sa.Integer(), nullable=False),
        sa.Column("ordinal", sa.Integer(), nullable=False),
        sa.Column("text", sa.String(length=200), nullable=False),
        sa.Column("basis", sa.String(length=10), nullable=False),
        sa.Column("amount", sa.Float(53), nullable=True),
        sa.Column("minutes", sa.Float(53), nullable=True),
        sa.Column("roles", sa.String(length=120), nullable=True),
        sa.Column("qualification", sa.String(length=40), nullable=True),
        sa.Column("second_person", sa.Boolean(), nullable=False),
        sa.Column("critical", sa.Boolean(), nullable=False),
        sa.Column("source", sa.String(length=300), nullable=False),
        sa.CheckConstraint(
            "basis IS NULL OR basis IN ('months', 'hours', 'dives', 'hires', 'hand-back', 'assembly', 'flood')",
            name=op.f("ck_service_task_basis_word"),
        ),
        sa.ForeignKeyConstraint(["unit_type_id"], ["unit_type.id"], name=op.f("fk_service_task_unit_type_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_service_task")),
        sa.UniqueConstraint("ref", name=op.f("uq_service_task_ref")),
    )
    with op.batch_alter_table("service_task") as batch_op:
        batch_op.create_index(batch_op.f("ix_service_task_unit_type_id"), ["unit_type_id"], unique=False)

    op.create_table(
        "service_need",
        sa.Column("id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("ref", sa.String(length=80), nullable=True),
        sa.Column("service_task_id", sa.Integer(), nullable=False),
        sa.Column("test", sa.String(length=24), nullable=True),
        sa.Column("part_type_id", sa.Integer(), nullable=True),
        sa.Column("quantity", sa.Float(53), nullable=False),
        sa.CheckConstraint(
            "test IS NULL OR test IN ('one-way valve', 'loop negative', 'loop positive', "
            "'intermediate pressure', 'injector flow', 'opening pressure', 'bailout valve', "
            "'mouthpiece valve', 'solenoid', 'addition valve', 'battery voltage', 'alarms', "
            "'set-point held')",
            name=op.f("ck_service_need_test_word"),
        ),
        sa.ForeignKeyConstraint(["part_type_id"], ["part_type.id"], name=op.f("fk_service_need_part_type_id")),
        sa.ForeignKeyConstraint(["service_task_id"], ["service_task.id"], name=op.f("fk_service_need_service_task_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_service_need")),
        sa.UniqueConstraint("ref", name=op.f("uq_service_need_ref")),
    )
    with op.batch_alter_table("service_need") as batch_op:
        batch_op.create_index(batch_op.f("ix_service_need_part_type_id"), ["part_type_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_service_need_service_task_id"), ["service_task_id"], unique=False)

    op.create_table(
        "service_work",
        sa.Column("id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("ref", sa.String(length=80), nullable=True),
        sa.Column("task_id", sa.Integer(), nullable=False),
        sa.Column("service_task_id", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(["service_task_id"], ["service_task.id"], name=op.f("fk_service_work_service_task_id")),
        sa.ForeignKeyConstraint(["task_id"], ["task.id"], name=op.f("fk_service_work_task_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_service_work")),
        sa.UniqueConstraint("ref", name=op.f("uq_service_work_ref")),
    )
    with op.batch_alter_table("service_work") as batch_op:
        batch_op.create_index(batch_op.f("ix_service_work_service_task_id"), ["service_task_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_service_work_task_id"), ["task_id"], unique=True)

    op.create_table(
        "disinfectant",
        sa.Column("id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("ref", sa.String(length=80), nullable=True),
        sa.Column("unit_type_id", sa.Integer(), nullable=True),
        sa.Column("name", sa.String(length=80), nullable=False),
        sa.Column("strength", sa.String(length=40), nullable=False),
        sa.Column("contact_minutes", sa.Float(53), nullable=False),
        sa.Column("use_within_hours", sa.Float(53), nullable=True),
        sa.Column("source", sa.String(length=300), nullable=False),
        sa.ForeignKeyConstraint(["unit_type_id"], ["unit_type.id"], name=op.f("fk_disinfectant_unit_type_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_disinfectant")),
        sa.UniqueConstraint("ref", name=op.f("uq_disinfectant_ref")),
    )
    with op.batch_alter_table("disinfectant") as batch_op:
        batch_op.create_index(batch_op.f("ix_disinfectant_unit_type_id"), ["unit_type_id"], unique=False)

    op.create_table(
        "turn_round",
        sa.Column("id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("ref", sa.String(length=80), nullable=True),
        sa.Column("unit_id", sa.Integer(), nullable=False),
        sa.Column("booking_unit_id", sa.Integer(), nullable=True),
        sa.Column("opened_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("opened_by_id", sa.Integer(), nullable=True),
        sa.Column("flooded_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("finished_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("finished_by_id", sa.Integer(), nullable=True),
        sa.Column("ticket_id", sa.Integer(), nullable=True),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(["booking_unit_id"], ["booking_unit.id"], name=op.f("fk_turn_round_booking_unit_id")),
        sa.ForeignKeyConstraint(["finished_by_id"], ["person.id"], name=op.f("fk_turn_round_finished_by_id")),
        sa.ForeignKeyConstraint(["opened_by_id"], ["person.id"], name=op.f("fk_turn_round_opened_by_id")),
        sa.ForeignKeyConstraint(["ticket_id"], ["ticket.id"], name=op.f("fk_turn_round_ticket_id")),
        sa.ForeignKeyConstraint(["unit_id"], ["unit.id"], name=op.f("fk_turn_round_unit_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_turn_round")),
        sa.UniqueConstraint("ref", name=op.f("uq_turn_round_ref")),
    )
    with op.batch_alter_table("turn_round") as batch_op:
        batch_op.create_index(batch_op.f("ix_turn_round_booking_unit_id"), ["booking_unit_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_turn_round_finished_by_id"), ["finished_by_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_turn_round_opened_by_id"), ["opened_by_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_turn_round_ticket_id"), ["ticket_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_turn_round_unit_id"), ["unit_id"], unique=False)

    op.create_table(
        "turn_round_line",
        sa.Column("id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("ref", sa.String(length=80), nullable=True),
        sa.Column("turn_round_id", sa.Integer(), nullable=False),
        sa.Column("ordinal", sa.Integer(), nullable=False),
        sa.Column("step", sa.String(length=24), nullable=False),
        sa.Column("service_task_id", sa.Integer(), nullable=True),
        sa.Column("state", sa.String(length=8), nullable=False),
        sa.Column("settled_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("person_id", sa.Integer(), nullable=True),
        sa.Column("how", sa.String(length=200), nullable=True),
        sa.CheckConstraint(
            "state IS NULL OR state IN ('to do', 'done', 'left out')", name=op.f("ck_turn_round_line_state_word")
        ),
        sa.CheckConstraint(
            "step IS NULL OR step IN ('cylinders', 'batteries out', 'absorbent', 'cells out', 'opened up', "
            "'head', 'strip', 'rinse', 'disinfect', 'rinse again', 'dry', 'valves', 'oxygen clean', "
            "'assemble', 'tests', 'batteries', 'calibrate', 'calibrate again', 'settings', 'previous data', "
            "'service')",
            name=op.f("ck_turn_round_line_step_word"),
        ),
        sa.ForeignKeyConstraint(["person_id"], ["person.id"], name=op.f("fk_turn_round_line_person_id")),
        sa.ForeignKeyConstraint(
            ["service_task_id"], ["service_task.id"], name=op.f("fk_turn_round_line_service_task_id")
        ),
        sa.ForeignKeyConstraint(["turn_round_id"], ["turn_round.id"], name=op.f("fk_turn_round_line_turn_round_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_turn_round_line")),
        sa.UniqueConstraint("ref", name=op.f("uq_turn_round_line_ref")),
        sa.UniqueConstraint("turn_round_id", "ordinal", name=op.f("uq_turn_round_line_turn_round_id")),
    )
    with op.batch_alter_table("turn_round_line") as batch_op:
        batch_op.create_index(batch_op.f("ix_turn_round_line_person_id"), ["person_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_turn_round_line_service_task_id"), ["service_task_id"], unique=False)

    op.create_table(
        "bath",
        sa.Column("id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("ref", sa.String(length=80), nullable=True),
        sa.Column("disinfectant_id", sa.Integer(), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("mixed_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("use_by", sa.DateTime(timezone=True), nullable=False),
        sa.Column("contact_minutes", sa.Float(53), nullable=False),
        sa.Column("rinsed", sa.Boolean(), nullable=False),
        sa.Column("person_id", sa.Integer(), nullable=True),
        sa.ForeignKeyConstraint(["disinfectant_id"], ["disinfectant.id"], name=op.f("fk_bath_disinfectant_id")),
        sa.ForeignKeyConstraint(["person_id"], ["person.id"], name=op.f("fk_bath_person_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_bath")),
        sa.UniqueConstraint("ref", name=op.f("uq_bath_ref")),
    )
    with op.batch_alter_table("bath") as batch_op:
        batch_op.create_index(batch_op.f("ix_bath_disinfectant_id"), ["disinfectant_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_bath_person_id"), ["person_id"], unique=False)

    op.create_table(
        "bath_loop",
        sa.Column("id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("ref", sa.String(length=80), nullable=True),
        sa.Column("bath_id", sa.Integer(), nullable=False),
        sa.Column("disinfection_id", sa.Integer(), nullable=False),
        sa.Column("part_id", sa.Integer(), nullable=True),
        sa.ForeignKeyConstraint(["bath_id"], ["bath.id"], name=op.f("fk_bath_loop_bath_id")),
        sa.ForeignKeyConstraint(["disinfection_id"], ["disinfection.id"], name=op.f("fk_bath_loop_disinfection_id")),
        sa.ForeignKeyConstraint(["part_id"], ["part.id"], name=op.f("fk_bath_loop_part_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_bath_loop")),
        sa.UniqueConstraint("ref", name=op.f("uq_bath_loop_ref")),
    )
    with op.batch_alter_table("bath_loop") as batch_op:
        batch_op.create_index(batch_op.f("ix_bath_loop_bath_id"), ["bath_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_bath_loop_disinfection_id"), ["disinfection_id"], unique=True)
        batch_op.create_index(batch_op.f("ix_bath_loop_part_id"), ["part_id"], unique=False)

    op.create_table(
        "drying",
        sa.Column("id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("ref", sa.String(length=80), nullable=True),
        sa.Column("disinfection_id", sa.Integer(), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("dry", sa.Boolean(), nullable=False),
        sa.Column("person_id", sa.Integer(), nullable=True),
        sa.ForeignKeyConstraint(["disinfection_id"], ["disinfection.id"], name=op.f("fk_drying_disinfection_id")),
        sa.ForeignKeyConstraint(["person_id"], ["person.id"], name=op.f("fk_drying_person_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_drying")),
        sa.UniqueConstraint("ref", name=op.f("uq_drying_ref")),
    )
    with op.batch_alter_table("drying") as batch_op:
        batch_op.create_index(batch_op.f("ix_drying_disinfection_id"), ["disinfection_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_drying_person_id"), ["person_id"], unique=False)

    op.create_table(
        "approved_firmware",
        sa.Column("id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("ref", sa.String(length=80), nullable=True),
        sa.Column("unit_type_id", sa.Integer(), nullable=False),
        sa.Column("version", sa.String(length=40), nullable=False),
        sa.Column("source", sa.String(length=300), nullable=False),
        sa.ForeignKeyConstraint(["unit_type_id"], ["unit_type.id"], name=op.f("fk_approved_firmware_unit_type_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_approved_firmware")),
        sa.UniqueConstraint("ref", name=op.f("uq_approved_firmware_ref")),
    )
    with op.batch_alter_table("approved_firmware") as batch_op:
        batch_op.create_index(batch_op.f("ix_approved_firmware_unit_type_id"), ["unit_type_id"], unique=False)

    op.create_table(
        "firmware_change",
        sa.Column("id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("ref", sa.String(length=80), nullable=True),
        sa.Column("part_id", sa.Integer(), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("before", sa.String(length=40), nullable=True),
        sa.Column("after", sa.String(length=40), nullable=False),
        sa.Column("person_id", sa.Integer(), nullable=True),
        sa.ForeignKeyConstraint(["part_id"], ["part.id"], name=op.f("fk_firmware_change_part_id")),
        sa.ForeignKeyConstraint(["person_id"], ["person.id"], name=op.f("fk_firmware_change_person_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_firmware_change")),
        sa.UniqueConstraint("ref", name=op.f("uq_firmware_change_ref")),
    )
    with op.batch_alter_table("firmware_change") as batch_op:
        batch_op.create_index(batch_op.f("ix_firmware_change_part_id"), ["part_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_firmware_change_person_id"), ["person_id"], unique=False)

    op.create_table(
        "handset_look",
        sa.Column("id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("ref", sa.String(length=80), nullable=True),
        sa.Column("unit_id", sa.Integer(), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("person_id", sa.Integer(), nullable=True),
        sa.Column("settings_reset", sa.Boolean(), nullable=True),
        sa.Column("previous_data", sa.String(length=8), nullable=True),
        sa.CheckConstraint(
            "previous_data IS NULL OR previous_data IN ('cleared', 'stated', 'present')",
            name=op.f("ck_handset_look_previous_data_word"),
        ),
        sa.ForeignKeyConstraint(["person_id"], ["person.id"], name=op.f("fk_handset_look_person_id")),
        sa.ForeignKeyConstraint(["unit_id"], ["unit.id"], name=op.f("fk_handset_look_unit_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_handset_look")),
        sa.UniqueConstraint("ref", name=op.f("uq_handset_look_ref")),
    )
    with op.batch_alter_table("handset_look") as batch_op:
        batch_op.create_index(batch_op.f("ix_handset_look_person_id"), ["person_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_handset_look_unit_id"), ["unit_id"], unique=False)
