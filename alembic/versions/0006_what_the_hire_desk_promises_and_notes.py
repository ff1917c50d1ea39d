"""Terms, divers, hand-overs, returns and swaps of bookings, and the advices that a manager accepted.

Revision 0006, after 0005.
"""

from collections.abc import Sequence

import sqlalchemy as sa
from alembic import op

revision: str = "0006"
down_revision: str | Sequence[str] | None = "0005"
branch_labels: str | Sequence[str] | None = None
depends_on: str | Sequence[str] | None = None


def upgrade() -> None:
    """Bring the tables up to this revision; a booking made before has no terms, which is what was recorded."""
    op.create_table(
        "acceptance",
        sa.Column("id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("ref", sa.String(length=80), nullable=True),
        sa.Column("unit_id", sa.Integer(), nullable=False),
        sa.Column("check_name", sa.String(length=60), nullable=False),
        sa.Column("until", sa.Date(), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("person_id", sa.Integer(), nullable=False),
        sa.Column("reason", sa.String(length=300), nullable=False),
        sa.ForeignKeyConstraint(["unit_id"], ["unit.id"], name=op.f("fk_acceptance_unit_id")),
        sa.ForeignKeyConstraint(["person_id"], ["person.id"], name=op.f("fk_acceptance_person_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_acceptance")),
        sa.UniqueConstraint("ref", name=op.f("uq_acceptance_ref")),
    )
    with op.batch_alter_table("acceptance") as batch_op:
        batch_op.create_index(batch_op.f("ix_acceptance_person_id"), ["person_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_acceptance_unit_id"), ["unit_id"], unique=False)

    op.create_table(
        "booking_diver",
        sa.Column("id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("ref", sa.String(length=80), nullable=True),
        sa.Column("booking_id", sa.Integer(), nullable=False),
        sa.Column("person_id", sa.Integer(), nullable=False),
        sa.Column("ordinal", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(["booking_id"], ["booking.id"], name=op.f("fk_booking_diver_booking_id")),
        sa.ForeignKeyConstraint(["person_id"], ["person.id"], name=op.f("fk_booking_diver_person_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_booking_diver")),
        sa.UniqueConstraint("ref", name=op.f("uq_booking_diver_ref")),
    )
    with op.batch_alter_table("booking_diver") as batch_op:
        batch_op.create_index(batch_op.f("ix_booking_diver_booking_id"), ["booking_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_booking_diver_person_id"), ["person_id"], unique=False)

    op.create_table(
        "booking_terms",
        sa.Column("id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("ref", sa.String(length=80), nullable=True),
        sa.Column("booking_id", sa.Integer(), nullable=False),
        sa.Column("spares", sa.Integer(), nullable=False),
        sa.Column("waiting_since", sa.DateTime(timezone=True), nullable=True),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(["booking_id"], ["booking.id"], name=op.f("fk_booking_terms_booking_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_booking_terms")),
        sa.UniqueConstraint("ref", name=op.f("uq_booking_terms_ref")),
    )
    with op.batch_alter_table("booking_terms") as batch_op:
        batch_op.create_index(batch_op.f("ix_booking_terms_booking_id"), ["booking_id"], unique=True)

    op.create_table(
        "hand_back",
        sa.Column("id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("ref", sa.String(length=80), nullable=True),
        sa.Column("booking_unit_id", sa.Integer(), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("person_id", sa.Integer(), nullable=False),
        sa.Column("missing", sa.String(length=300), nullable=True),
        sa.Column("damaged", sa.Boolean(), nullable=True),
        sa.Column("deposit_back", sa.Float(53), nullable=True),
        sa.ForeignKeyConstraint(["booking_unit_id"], ["booking_unit.id"], name=op.f("fk_hand_back_booking_unit_id")),
        sa.ForeignKeyConstraint(["person_id"], ["person.id"], name=op.f("fk_hand_back_person_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_hand_back")),
        sa.UniqueConstraint("ref", name=op.f("uq_hand_back_ref")),
    )
    with op.batch_alter_table("hand_back") as batch_op:
        batch_op.create_index(batch_op.f("ix_hand_back_booking_unit_id"), ["booking_unit_id"], unique=True)
        batch_op.create_index(batch_op.f("ix_hand_back_person_id"), ["person_id"], unique=False)

    op.create_table(
        "hand_over",
        sa.Column("id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("ref", sa.String(length=80), nullable=True),
        sa.Column("booking_unit_id", sa.Integer(), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("person_id", sa.Integer(), nullable=False),
        sa.Column("harness", sa.String(length=20), nullable=True),
        sa.Column("accessories", sa.Integer(), nullable=True),
        sa.Column("deposit", sa.Float(53), nullable=True),
        sa.ForeignKeyConstraint(["booking_unit_id"], ["booking_unit.id"], name=op.f("fk_hand_over_booking_unit_id")),
        sa.ForeignKeyConstraint(["person_id"], ["person.id"], name=op.f("fk_hand_over_person_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_hand_over")),
        sa.UniqueConstraint("ref", name=op.f("uq_hand_over_ref")),
    )
    with op.batch_alter_table("hand_over") as batch_op:
        batch_op.create_index(batch_op.f("ix_hand_over_booking_unit_id"), ["booking_unit_id"], unique=True)
        batch_op.create_index(batch_op.f("ix_hand_over_person_id"), ["person_id"], unique=False)

    op.create_table(
        "unit_swap",
        sa.Column("id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("ref", sa.String(length=80), nullable=True),
        sa.Column("failed_id", sa.Integer(), nullable=False),
        sa.Column("instead_id", sa.Integer(), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("person_id", sa.Integer(), nullable=False),
        sa.Column("reason", sa.String(length=300), nullable=False),
        sa.ForeignKeyConstraint(["failed_id"], ["booking_unit.id"], name=op.f("fk_unit_swap_failed_id")),
        sa.ForeignKeyConstraint(["instead_id"], ["booking_unit.id"], name=op.f("fk_unit_swap_instead_id")),
        sa.ForeignKeyConstraint(["person_id"], ["person.id"], name=op.f("fk_unit_swap_person_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_unit_swap")),
        sa.UniqueConstraint("ref", name=op.f("uq_unit_swap_ref")),
    )
    with op.batch_alter_table("unit_swap") as batch_op:
        batch_op.create_index(batch_op.f("ix_unit_swap_failed_id"), ["failed_id"], unique=True)
        batch_op.create_index(batch_op.f("ix_unit_swap_instead_id"), ["instead_id"], unique=True)
        batch_op.create_index(batch_op.f("ix_unit_swap_person_id"), ["person_id"], unique=False)
