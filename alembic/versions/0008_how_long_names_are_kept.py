"""Years that erasable records are kept, and legal holds above erasing them.

Revision 0008, after 0007.
"""

from collections.abc import Sequence

import sqlalchemy as sa
from alembic import op

revision: str = "0008"
down_revision: str | Sequence[str] | None = "0007"
branch_labels: str | Sequence[str] | None = None
depends_on: str | Sequence[str] | None = None


def upgrade() -> None:
    """Bring the tables up to this revision; no years are set until the centre sets them."""
    op.create_table(
        "retention",
        sa.Column("id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("ref", sa.String(length=80), nullable=True),
        sa.Column("kind", sa.String(length=30), nullable=False),
        sa.Column("years", sa.Integer(), nullable=False),
        sa.Column("source", sa.String(length=200), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.CheckConstraint(
            "kind IS NULL OR kind IN ('names and contacts', 'words about hires')", name=op.f("ck_retention_kind_word")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_retention")),
        sa.UniqueConstraint("kind", name=op.f("uq_retention_kind")),
        sa.UniqueConstraint("ref", name=op.f("uq_retention_ref")),
    )
    op.create_table(
        "legal_hold",
        sa.Column("id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("ref", sa.String(length=80), nullable=True),
        sa.Column("person_id", sa.Integer(), nullable=False),
        sa.Column("reason", sa.String(length=300), nullable=False),
        sa.Column("placed_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("placed_by_id", sa.Integer(), nullable=False),
        sa.Column("lifted_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("lifted_by_id", sa.Integer(), nullable=True),
        sa.ForeignKeyConstraint(["person_id"], ["person.id"], name=op.f("fk_legal_hold_person_id")),
        sa.ForeignKeyConstraint(["placed_by_id"], ["person.id"], name=op.f("fk_legal_hold_placed_by_id")),
        sa.ForeignKeyConstraint(["lifted_by_id"], ["person.id"], name=op.f("fk_legal_hold_lifted_by_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_legal_hold")),
        sa.UniqueConstraint("ref", name=op.f("uq_legal_hold_ref")),
    )
    with op.batch_alter_table("legal_hold") as batch_op:
        for column in ("person_id", "placed_by_id", "lifted_by_id"):
            batch_op.create_index(batch_op.f(f"ix_legal_hold_{column}"), [column], unique=False)
