"""Corrected fills and analyses, gauge readings, gas certificates, oxygen-clean status, and what a test was done with.

Revision 0005, after 0004.
"""

from collections.abc import Sequence

import sqlalchemy as sa
from alembic import op
from alembic.operations import BatchOperations

revision: str = "0005"
down_revision: str | Sequence[str] | None = "0004"
branch_labels: str | Sequence[str] | None = None
depends_on: str | Sequence[str] | None = None


def upgrade() -> None:
    """Bring the tables up to this revision; what was recorded before stays as it is, with the new facts not known."""
    _cylinders()
    _certificates()
    _oxygen_side()
    with op.batch_alter_table("cylinder_fill") as batch_op:
        batch_op.add_column(sa.Column("machine", sa.String(length=60), nullable=True))
        batch_op.add_column(sa.Column("temperature_c", sa.Float(53), nullable=True))
        _supersedes(batch_op, "cylinder_fill")
    with op.batch_alter_table("gas_analysis") as batch_op:
        batch_op.add_column(sa.Column("uncertainty", sa.Float(53), nullable=True))
        batch_op.add_column(sa.Column("signed", sa.String(length=10), nullable=True))
        batch_op.create_check_constraint(
            op.f("ck_gas_analysis_signed_word"), "signed IS NULL OR signed IN ('on paper', 'by PIN')"
        )
        _supersedes(batch_op, "gas_analysis")
    with op.batch_alter_table("part_test") as batch_op:
        batch_op.add_column(sa.Column("at", sa.DateTime(timezone=True), nullable=True))
        batch_op.add_column(sa.Column("how", sa.String(length=120), nullable=True))
        batch_op.add_column(sa.Column("person_id", sa.Integer(), nullable=True))
        batch_op.add_column(sa.Column("ticket_id", sa.Integer(), nullable=True))
        batch_op.create_foreign_key(op.f("fk_part_test_person_id"), "person", ["person_id"], ["id"])
        batch_op.create_foreign_key(op.f("fk_part_test_ticket_id"), "ticket", ["ticket_id"], ["id"])
        batch_op.create_index(op.f("ix_part_test_person_id"), ["person_id"], unique=False)
        batch_op.create_index(op.f("ix_part_test_ticket_id"), ["ticket_id"], unique=False)


def _supersedes(batch_op: BatchOperations, table: str) -> None:
    batch_op.add_column(sa.Column("supersedes_id", sa.Integer(), nullable=True))
    batch_op.add_column(sa.Column("supersedes_reason", sa.String(length=120), nullable=True))
    batch_op.create_foreign_key(op.f(f"fk_{table}_supersedes_id"), table, ["supersedes_id"], ["id"])
    batch_op.create_index(op.f(f"ix_{table}_supersedes_id"), ["supersedes_id"], unique=False)


def _cylinders() -> None:
    op.create_table(
        "cylinder_reading",
        sa.Column("id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("ref", sa.String(length=80), nullable=True),
        sa.Column("part_id", sa.Integer(), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("bar", sa.Float(53), nullable=False),
        sa.Column("temperature_c", sa.Float(53), nullable=True),
        sa.Column("person_id", sa.Integer(), nullable=True),
        sa.ForeignKeyConstraint(["part_id"], ["part.id"], name=op.f("fk_cylinder_reading_part_id")),
        sa.ForeignKeyConstraint(["person_id"], ["person.id"], name=op.f("fk_cylinder_reading_person_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_cylinder_reading")),
        sa.UniqueConstraint("ref", name=op.f("uq_cylinder_reading_ref")),
    )
    _index("cylinder_reading", "part_id", "person_id")


def _certificates() -> None:
    op.create_table(
        "gas_certificate",
        sa.Column("id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("ref", sa.String(length=80), nullable=True),
        sa.Column("batch", sa.String(length=60), nullable=False),
        sa.Column("gas", sa.String(length=10), nullable=False),
        sa.Column("supplier", sa.String(length=120), nullable=True),
        sa.Column("issued_on", sa.Date(), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("person_id", sa.Integer(), nullable=True),
        sa.CheckConstraint("gas IS NULL OR gas IN ('oxygen', 'air')", name=op.f("ck_gas_certificate_gas_word")),
        sa.ForeignKeyConstraint(["person_id"], ["person.id"], name=op.f("fk_gas_certificate_person_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_gas_certificate")),
        sa.UniqueConstraint("ref", name=op.f("uq_gas_certificate_ref")),
    )
    _index("gas_certificate", "batch", "person_id")
    op.create_table(
        "gas_certificate_line",
        sa.Column("id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("gas_certificate_id", sa.Integer(), nullable=False),
        sa.Column("what", sa.String(length=40), nullable=False),
        sa.Column("value", sa.Float(53), nullable=False),
        sa.ForeignKeyConstraint(
            ["gas_certificate_id"], ["gas_certificate.id"], name=op.f("fk_gas_certificate_line_gas_certificate_id")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_gas_certificate_line")),
        sa.UniqueConstraint("gas_certificate_id", "what", name=op.f("uq_gas_certificate_line_gas_certificate_id")),
    )


def _oxygen_side() -> None:
    op.create_table(
        "clean_loss",
        sa.Column("id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("ref", sa.String(length=80), nullable=True),
        sa.Column("part_id", sa.Integer(), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("why", sa.String(length=30), nullable=False),
        sa.Column("person_id", sa.Integer(), nullable=True),
        sa.Column("ticket_id", sa.Integer(), nullable=True),
        sa.Column("note", sa.String(length=300), nullable=True),
        sa.CheckConstraint(
            "why IS NULL OR why IN ('opened off the clean bench', 'air not oxygen-compatible', 'flooded', 'wrong lubricant', 'other')",
            name=op.f("ck_clean_loss_why_word"),
        ),
        sa.ForeignKeyConstraint(["part_id"], ["part.id"], name=op.f("fk_clean_loss_part_id")),
        sa.ForeignKeyConstraint(["person_id"], ["person.id"], name=op.f("fk_clean_loss_person_id")),
        sa.ForeignKeyConstraint(["ticket_id"], ["ticket.id"], name=op.f("fk_clean_loss_ticket_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_clean_loss")),
        sa.UniqueConstraint("ref", name=op.f("uq_clean_loss_ref")),
    )
    _index("clean_loss", "part_id", "person_id", "ticket_id")
    op.create_table(
        "ticket_material",
        sa.Column("id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("ref", sa.String(length=80), nullable=True),
        sa.Column("ticket_id", sa.Integer(), nullable=False),
        sa.Column("part_id", sa.Integer(), nullable=True),
        sa.Column("kind", sa.String(length=10), nullable=False),
        sa.Column("name", sa.String(length=80), nullable=False),
        sa.Column("lot", sa.String(length=60), nullable=False),
        sa.Column("oxygen_compatible", sa.Boolean(), nullable=True),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("person_id", sa.Integer(), nullable=True),
        sa.CheckConstraint(
            "kind IS NULL OR kind IN ('lubricant', 'seal kit')", name=op.f("ck_ticket_material_kind_word")
        ),
        sa.ForeignKeyConstraint(["part_id"], ["part.id"], name=op.f("fk_ticket_material_part_id")),
        sa.ForeignKeyConstraint(["person_id"], ["person.id"], name=op.f("fk_ticket_material_person_id")),
        sa.ForeignKeyConstraint(["ticket_id"], ["ticket.id"], name=op.f("fk_ticket_material_ticket_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_ticket_material")),
        sa.UniqueConstraint("ref", name=op.f("uq_ticket_material_ref")),
    )
    _index("ticket_material", "part_id", "person_id", "ticket_id")


def _index(table: str, *columns: str) -> None:
    with op.batch_alter_table(table) as batch_op:
        for column in columns:
            batch_op.create_index(op.f(f"ix_{table}_{column}"), [column], unique=False)
