"""Photos: where the file was, when it was attached, and by whom; of those already there it is not known."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0003"
down_revision = "0002"


def upgrade() -> None:
    """Add the three columns, empty."""
    for name in ("path", "at", "by"):
        op.add_column("photos", sa.Column(name, sa.Text))
