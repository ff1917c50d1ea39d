"""PINs apart from people, with their wrong entries; only a digest of each stands in the journal.

Revision 0007, after 0006.
"""

from collections.abc import Sequence

import sqlalchemy as sa
from alembic import op

revision: str = "0007"
down_revision: str | Sequence[str] | None = "0006"
branch_labels: str | Sequence[str] | None = None
depends_on: str | Sequence[str] | None = None


def upgrade() -> None:
    """Bring the tables up to this revision.

    PINs set before are not carried over: their hashes stand in old journal entries, where they can be tried offline, so
    everybody sets a new one.
    """
    with op.batch_alter_table("person") as batch_op:
        batch_op.drop_column("pin_hash")
        batch_op.add_column(sa.Column("pin_digest", sa.String(length=64), nullable=True))
    op.create_table(
        "person_pin",
        sa.Column("id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("person_id", sa.Integer(), nullable=False),
        sa.Column("pin_hash", sa.String(), nullable=False),
        sa.Column("tries", sa.Integer(), nullable=False),
        sa.Column("last_wrong", sa.DateTime(timezone=True), nullable=True),
        sa.ForeignKeyConstraint(["person_id"], ["person.id"], name=op.f("fk_person_pin_person_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_person_pin")),
    )
    with op.batch_alter_table("person_pin") as batch_op:
        batch_op.create_index(batch_op.f("ix_person_pin_person_id"), ["person_id"], unique=True)
