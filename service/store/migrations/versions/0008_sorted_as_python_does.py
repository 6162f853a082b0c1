"""texts sort by their bytes on PostgreSQL too, whatever the database's locale.

Revision: 0008
"""

from itertools import groupby

import sqlalchemy as sa
from alembic import op

revision = '0008'
down_revision = '0007'
branch_labels = None
depends_on = None

TABLES = (
    'access', 'attempts', 'bearing', 'carried', 'checkpoint', 'client', 'consigned', 'container',
    'credential', 'cycle', 'event', 'leaf', 'loaded', 'log', 'named', 'node', 'notice', 'person',
    'secret', 'session', 'setup', 'spore', 'stay', 'trace', 'violation',
)


def upgrade() -> None:
    _sorted_by('C')


def downgrade() -> None:
    _sorted_by('default')


def _sorted_by(collation):
    """No row is written anew for that, only the indexes of texts are."""
    connection = op.get_bind()
    if connection.dialect.name != 'postgresql':
        return
    texts = connection.execute(
        sa.text(
            'SELECT table_name, column_name, data_type FROM information_schema.columns '
            'WHERE table_schema = current_schema() AND table_name = ANY(:tables) '
            "AND data_type IN ('text', 'character varying') ORDER BY table_name, ordinal_position"
        ),
        {'tables': list(TABLES)},
    ).all()
    for table, columns in groupby(texts, lambda column: column.table_name):
        changes = ', '.join(
            f'ALTER "{c.column_name}" TYPE {c.data_type} COLLATE "{collation}"' for c in columns
        )
        op.execute(f'ALTER TABLE "{table}" {changes}')
