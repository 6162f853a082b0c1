"""indexes of seals and of what is under way.

Revision: 0006
"""

import sqlalchemy as sa
from alembic import op

revision = '0006'
down_revision = '0005'
branch_labels = None
depends_on = None

INDEXES = {
    'ix_carried_seal': (['seal', 'facility'], 'seal IS NOT NULL'),
    'ix_carried_seal_received': (['seal_received', 'facility'], 'seal_received IS NOT NULL'),
    'ix_carried_under_way': (
        ['end', 'facility', 'consignment', 'container'], '"end" IS NULL'
    ),
}


def upgrade() -> None:
    for name, (columns, where) in INDEXES.items():
        some = sa.text(where)
        op.create_index(name, 'carried', columns, sqlite_where=some, postgresql_where=some)


def downgrade() -> None:
    for name in INDEXES:
        op.drop_index(name, 'carried')
