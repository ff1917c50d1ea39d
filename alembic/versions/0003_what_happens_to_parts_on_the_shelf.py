"""What happens to parts on the shelf: events with their proofs, counted stock, and what a kit must hold.

Revision 0003, after 0002.
"""

from collections.abc import Sequence

import sqlalchemy as sa
from alembic import op

revision: str = "0003"
down_revision: str | Sequence[str] | None = "0002"
branch_labels: str | Sequence[str] | None = None
depends_on: str | Sequence[str] | None = None


def upgrade() -> None:
    """Bring the tables up to this revision; parts received before have no events, which is what was recorded."""
    op.create_table(
        "kit_content",
        sa.Column("id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("ref", sa.String(length=80), nullable=True),
        sa.Column("place_id", sa.Integer(), nullable=False),
        sa.Column("part_type_id", sa.Integer(), nullable=False),
        sa.Column("least", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(["part_type_id"], ["part_type.id"], name=op.f("fk_kit_content_part_type_id")),
        sa.ForeignKeyConstraint(["place_id"], ["place.id"], name=op.f("fk_kit_content_place_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_kit_content")),
        sa.UniqueConstraint("place_id", "part_type_id", name="uq_kit_content_place_part_type"),
        sa.UniqueConstraint("ref", name=op.f("uq_kit_content_ref")),
    )
    with op.batch_alter_table("kit_content") as batch_op:
        batch_op.create_index(batch_op.f("ix_kit_content_part_type_id"), ["part_type_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_kit_content_place_id"), ["place_id"], unique=False)

    op.create_table(
        "stock_count",
        sa.Column("id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("ref", sa.String(length=80), nullable=True),
        sa.Column("part_type_id", sa.Integer(), nullable=False),
        sa.Column("lot", sa.String(length=60), nullable=True),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("person_id", sa.Integer(), nullable=True),
        sa.Column("book", sa.Integer(), nullable=False),
        sa.Column("counted", sa.Integer(), nullable=False),
        sa.Column("reason", sa.String(length=300), nullable=False),
        sa.ForeignKeyConstraint(["part_type_id"], ["part_type.id"], name=op.f("fk_stock_count_part_type_id")),
        sa.ForeignKeyConstraint(["person_id"], ["person.id"], name=op.f("fk_stock_count_person_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_stock_count")),
        sa.UniqueConstraint("ref", name=op.f("uq_stock_count_ref")),
    )
    with op.batch_alter_table("stock_count") as batch_op:
        batch_op.create_index(batch_op.f("ix_stock_count_part_type_id"), ["part_type_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_stock_count_person_id"), ["person_id"], unique=False)

    op.create_table(
        "part_event",
        sa.Column("id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("ref", sa.String(length=80), nullable=True),
        sa.Column("part_id", sa.Integer(), nullable=False),
        sa.Column("kind", sa.String(length=12), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("person_id", sa.Integer(), nullable=True),
        sa.Column("place_id", sa.Integer(), nullable=True),
        sa.Column("state_before", sa.String(length=12), nullable=True),
        sa.Column("place_before_id", sa.Integer(), nullable=True),
        sa.Column("reason", sa.String(length=300), nullable=True),
        sa.Column("ticket_id", sa.Integer(), nullable=True),
        sa.Column("undoes_id", sa.Integer(), nullable=True),
        sa.CheckConstraint(
            "kind IS NULL OR kind IN ('received', 'opened', 'moved', 'quarantine', 'released', 'sent back', 'came back', 'scrapped', 'used up', 'not found', 'found', 'undone')",
            name=op.f("ck_part_event_kind_word"),
        ),
        sa.ForeignKeyConstraint(["part_id"], ["part.id"], name=op.f("fk_part_event_part_id")),
        sa.ForeignKeyConstraint(["person_id"], ["person.id"], name=op.f("fk_part_event_person_id")),
        sa.ForeignKeyConstraint(["place_before_id"], ["place.id"], name=op.f("fk_part_event_place_before_id")),
        sa.ForeignKeyConstraint(["place_id"], ["place.id"], name=op.f("fk_part_event_place_id")),
        sa.ForeignKeyConstraint(["ticket_id"], ["ticket.id"], name=op.f("fk_part_event_ticket_id")),
        sa.ForeignKeyConstraint(["undoes_id"], ["part_event.id"], name=op.f("fk_part_event_undoes_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_part_event")),
        sa.UniqueConstraint("ref", name=op.f("uq_part_event_ref")),
    )
    with op.batch_alter_table("part_event") as batch_op:
        batch_op.create_index(batch_op.f("ix_part_event_part_id"), ["part_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_part_event_person_id"), ["person_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_part_event_place_before_id"), ["place_before_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_part_event_place_id"), ["place_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_part_event_ticket_id"), ["ticket_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_part_event_undoes_id"), ["undoes_id"], unique=True)

    op.create_table(
        "part_proof",
        sa.Column("id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("ref", sa.String(length=80), nullable=True),
        sa.Column("part_event_id", sa.Integer(), nullable=False),
        sa.Column("outcome_id", sa.Integer(), nullable=True),
        sa.Column("bench_test_id", sa.Integer(), nullable=True),
        sa.CheckConstraint("(outcome_id IS NULL) <> (bench_test_id IS NULL)", name=op.f("ck_part_proof_one_proof")),
        sa.ForeignKeyConstraint(["bench_test_id"], ["bench_test.id"], name=op.f("fk_part_proof_bench_test_id")),
        sa.ForeignKeyConstraint(["outcome_id"], ["calibration_outcome.id"], name=op.f("fk_part_proof_outcome_id")),
        sa.ForeignKeyConstraint(["part_event_id"], ["part_event.id"], name=op.f("fk_part_proof_part_event_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_part_proof")),
        sa.UniqueConstraint("ref", name=op.f("uq_part_proof_ref")),
    )
    with op.batch_alter_table("part_proof") as batch_op:
        batch_op.create_index(batch_op.f("ix_part_proof_bench_test_id"), ["bench_test_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_part_proof_outcome_id"), ["outcome_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_part_proof_part_event_id"), ["part_event_id"], unique=False)
