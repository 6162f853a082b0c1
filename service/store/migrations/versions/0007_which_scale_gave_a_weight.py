"""which scale gave the weight of a container; older rows have it after ``custody rebuild``.

Revision: 0007
"""

import sqlalchemy as sa
import sqlmodel.sql.sqltypes
from alembic import op

revision = '0007'
down_revision = '0006'
branch_labels = None
depends_on = None

COLUMNS = ('scale', 'received_scale')


def upgrade() -> None:
    for name in COLUMNS:
        told = sa.Column(name, sqlmodel.sql.sqltypes.AutoString(), nullable=True)
        op.add_column('container', told)


def downgrade() -> None:
    for name in COLUMNS:
        op.drop_column('container', name)
