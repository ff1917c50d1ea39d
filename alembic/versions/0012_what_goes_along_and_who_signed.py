"""What goes along with a unit and who signed for it; where a booking is dived, and what its divers state.

Revision 0012, after 0011.
"""

from collections.abc import Sequence

import sqlalchemy as sa
from alembic import op

revision: str = "0012"
down_revision: str | Sequence[str] | None = "0011"
branch_labels: str | Sequence[str] | None = None
depends_on: str | Sequence[str] | None = None


def upgrade() -> None:
    """Add tables and columns; of what was noted before, nothing of this was asked, and it stays unsaid."""
    with op.batch_alter_table("booking_terms") as batch_op:
        batch_op.add_column(sa.Column("altitude_m", sa.Float(53), nullable=True))
    with op.batch_alter_table("booking_diver") as batch_op:
        batch_op.add_column(sa.Column("harness", sa.String(length=20), nullable=True))
        batch_op.add_column(sa.Column("last_dive_on", sa.Date(), nullable=True))
    with op.batch_alter_table("hand_over") as batch_op:
        batch_op.add_column(sa.Column("absorbent_kg", sa.Float(53), nullable=True))

    op.create_table(
        "accessory",
        sa.Column("id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("ref", sa.String(length=80), nullable=True),
        sa.Column("unit_type_id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(length=80), nullable=False),
        sa.Column("count", sa.Integer(), nullable=False),
        sa.Column("ordinal", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(["unit_type_id"], ["unit_type.id"], name=op.f("fk_accessory_unit_type_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_accessory")),
        sa.UniqueConstraint("ref", name=op.f("uq_accessory_ref")),
    )
    op.create_index(op.f("ix_accessory_unit_type_id"), "accessory", ["unit_type_id"], unique=False)

    op.create_table(
        "accessory_count",
        sa.Column("id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("ref", sa.String(length=80), nullable=True),
        sa.Column("booking_unit_id", sa.Integer(), nullable=False),
        sa.Column("accessory_id", sa.Integer(), nullable=False),
        sa.Column("sent", sa.Integer(), nullable=False),
        sa.Column("back", sa.Integer(), nullable=True),
        sa.ForeignKeyConstraint(
            ["booking_unit_id"], ["booking_unit.id"], name=op.f("fk_accessory_count_booking_unit_id")
        ),
        sa.ForeignKeyConstraint(["accessory_id"], ["accessory.id"], name=op.f("fk_accessory_count_accessory_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_accessory_count")),
        sa.UniqueConstraint("booking_unit_id", "accessory_id", name=op.f("uq_accessory_count_booking_unit_id")),
        sa.UniqueConstraint("ref", name=op.f("uq_accessory_count_ref")),
    )
    op.create_index(op.f("ix_accessory_count_accessory_id"), "accessory_count", ["accessory_id"], unique=False)
    op.create_index(op.f("ix_accessory_count_booking_unit_id"), "accessory_count", ["booking_unit_id"], unique=False)

    op.create_table(
        "sheet_signature",
        sa.Column("id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("ref", sa.String(length=80), nullable=True),
        sa.Column("booking_unit_id", sa.Integer(), nullable=False),
        sa.Column("party", sa.String(length=8), nullable=False),
        sa.Column("how", sa.String(length=8), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("person_id", sa.Integer(), nullable=False),
        sa.Column("digest", sa.String(length=64), nullable=True),
        sa.CheckConstraint("party IS NULL OR party IN ('diver', 'centre')", name=op.f("ck_sheet_signature_party_word")),
        sa.CheckConstraint("how IS NULL OR how IN ('drawn', 'paper')", name=op.f("ck_sheet_signature_how_word")),
        sa.ForeignKeyConstraint(
            ["booking_unit_id"], ["booking_unit.id"], name=op.f("fk_sheet_signature_booking_unit_id")
        ),
        sa.ForeignKeyConstraint(["person_id"], ["person.id"], name=op.f("fk_sheet_signature_person_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_sheet_signature")),
        sa.UniqueConstraint("ref", name=op.f("uq_sheet_signature_ref")),
    )
    op.create_index(op.f("ix_sheet_signature_booking_unit_id"), "sheet_signature", ["booking_unit_id"], unique=False)
    op.create_index(op.f("ix_sheet_signature_person_id"), "sheet_signature", ["person_id"], unique=False)

    op.create_table(
        "signature_drawing",
        sa.Column("id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("sheet_signature_id", sa.Integer(), nullable=False),
        sa.Column("strokes", sa.String(), nullable=False),
        sa.ForeignKeyConstraint(
            ["sheet_signature_id"], ["sheet_signature.id"], name=op.f("fk_signature_drawing_sheet_signature_id")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_signature_drawing")),
    )
    op.create_index(
        op.f("ix_signature_drawing_sheet_signature_id"), "signature_drawing", ["sheet_signature_id"], unique=True
    )
