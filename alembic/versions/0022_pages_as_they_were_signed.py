"""A booking has the language of its pages and an hour of return, a centre its emergency number; signed pages are kept.

Revision 0022, after 0021.
"""

from collections.abc import Sequence

import sqlalchemy as sa
from alembic import op

revision: str = "0022"
down_revision: str | Sequence[str] | None = "0021"
branch_labels: str | Sequence[str] | None = None
depends_on: str | Sequence[str] | None = None

_LANGUAGES = ("en", "de", "es", "fr", "el", "it", "cs", "pl")


def upgrade() -> None:
    """Add the columns, empty, and the table of signed pages."""
    with op.batch_alter_table("centre") as batch_op:
        batch_op.add_column(sa.Column("emergency_telephone", sa.String(length=60), nullable=True))
    listed = ", ".join(f"'{code}'" for code in _LANGUAGES)
    with op.batch_alter_table("booking") as batch_op:
        batch_op.add_column(sa.Column("language", sa.String(length=5), nullable=True))
        batch_op.add_column(sa.Column("back_by", sa.String(length=5), nullable=True))
        batch_op.create_check_constraint(
            op.f("ck_booking_language_word"), f"language IS NULL OR language IN ({listed})"
        )
    op.create_table(
        "signed_page",
        sa.Column("id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("salt", sa.String(length=32), nullable=False),
        sa.Column("sheet_signature_id", sa.Integer(), nullable=False),
        sa.Column("sha256", sa.String(length=64), nullable=False),
        sa.Column("size", sa.Integer(), nullable=False),
        sa.Column("state", sa.String(length=64), nullable=False),
        sa.ForeignKeyConstraint(
            ["sheet_signature_id"],
            ["sheet_signature.id"],
            name=op.f("fk_signed_page_sheet_signature_id"),
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_signed_page")),
    )
    op.create_index(op.f("ix_signed_page_sheet_signature_id"), "signed_page", ["sheet_signature_id"], unique=True)
