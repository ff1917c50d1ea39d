"""What happens to a fill between packing and the bin, corrected runs, and containers counted anew.

Revision 0002, after 0001.
"""

from collections.abc import Sequence

import sqlalchemy as sa
from alembic import op

revision: str = "0002"
down_revision: str | Sequence[str] | None = "0001"
branch_labels: str | Sequence[str] | None = None
depends_on: str | Sequence[str] | None = None


def upgrade() -> None:
    """Bring the tables up to this revision; a fill packed before has no weighed tare, which is what it was."""
    op.create_table(
        "stock_take",
        sa.Column("id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("ref", sa.String(length=80), nullable=True),
        sa.Column("container_id", sa.Integer(), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("person_id", sa.Integer(), nullable=True),
        sa.Column("book_kg", sa.Float(53), nullable=False),
        sa.Column("counted_kg", sa.Float(53), nullable=False),
        sa.Column("reason", sa.String(length=200), nullable=False),
        sa.ForeignKeyConstraint(["container_id"], ["container.id"], name=op.f("fk_stock_take_container_id")),
        sa.ForeignKeyConstraint(["person_id"], ["person.id"], name=op.f("fk_stock_take_person_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_stock_take")),
        sa.UniqueConstraint("ref", name=op.f("uq_stock_take_ref")),
    )
    with op.batch_alter_table("stock_take") as batch_op:
        batch_op.create_index(batch_op.f("ix_stock_take_container_id"), ["container_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_stock_take_person_id"), ["person_id"], unique=False)

    op.create_table(
        "fill_event",
        sa.Column("id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("ref", sa.String(length=80), nullable=True),
        sa.Column("fill_id", sa.Integer(), nullable=False),
        sa.Column("kind", sa.String(length=10), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("person_id", sa.Integer(), nullable=True),
        sa.Column("diver_id", sa.Integer(), nullable=True),
        sa.Column("booking_unit_id", sa.Integer(), nullable=True),
        sa.Column("note", sa.String(length=200), nullable=True),
        sa.CheckConstraint(
            "kind IS NULL OR kind IN ('given', 'closed up', 'flooded')", name=op.f("ck_fill_event_kind_word")
        ),
        sa.ForeignKeyConstraint(["booking_unit_id"], ["booking_unit.id"], name=op.f("fk_fill_event_booking_unit_id")),
        sa.ForeignKeyConstraint(["diver_id"], ["person.id"], name=op.f("fk_fill_event_diver_id")),
        sa.ForeignKeyConstraint(["fill_id"], ["fill.id"], name=op.f("fk_fill_event_fill_id")),
        sa.ForeignKeyConstraint(["person_id"], ["person.id"], name=op.f("fk_fill_event_person_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_fill_event")),
        sa.UniqueConstraint("ref", name=op.f("uq_fill_event_ref")),
    )
    with op.batch_alter_table("fill_event") as batch_op:
        batch_op.create_index(batch_op.f("ix_fill_event_booking_unit_id"), ["booking_unit_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_fill_event_diver_id"), ["diver_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_fill_event_fill_id"), ["fill_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_fill_event_person_id"), ["person_id"], unique=False)

    op.create_table(
        "run_correction",
        sa.Column("id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("ref", sa.String(length=80), nullable=True),
        sa.Column("run_id", sa.Integer(), nullable=False),
        sa.Column("instead_id", sa.Integer(), nullable=True),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("person_id", sa.Integer(), nullable=True),
        sa.Column("reason", sa.String(length=200), nullable=False),
        sa.ForeignKeyConstraint(["instead_id"], ["run.id"], name=op.f("fk_run_correction_instead_id")),
        sa.ForeignKeyConstraint(["person_id"], ["person.id"], name=op.f("fk_run_correction_person_id")),
        sa.ForeignKeyConstraint(["run_id"], ["run.id"], name=op.f("fk_run_correction_run_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_run_correction")),
        sa.UniqueConstraint("ref", name=op.f("uq_run_correction_ref")),
    )
    with op.batch_alter_table("run_correction") as batch_op:
        batch_op.create_index(batch_op.f("ix_run_correction_instead_id"), ["instead_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_run_correction_person_id"), ["person_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_run_correction_run_id"), ["run_id"], unique=True)

    with op.batch_alter_table("fill") as batch_op:
        batch_op.add_column(sa.Column("tare_g", sa.Float(53), nullable=True))
        batch_op.add_column(sa.Column("filled_g", sa.Float(53), nullable=True))
