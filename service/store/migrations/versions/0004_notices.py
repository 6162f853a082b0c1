"""notices to people and programs outside.

Revision: 0004
"""

import sqlalchemy as sa
import sqlmodel.sql.sqltypes
from alembic import op

revision = '0004'
down_revision = '0003'
branch_labels = None
depends_on = None

TEXT = sqlmodel.sql.sqltypes.AutoString
TIME = sqlmodel.sql.sqltypes.UTCDateTime


def upgrade() -> None:
    op.create_table('notice',
    sa.Column('facility', TEXT(), nullable=False),
    sa.Column('recipient', TEXT(), nullable=False),
    sa.Column('id', TEXT(), nullable=False),
    sa.Column('made_at', TIME(), nullable=False),
    sa.Column('told', sa.Text(), nullable=False),
    sa.Column('tries', sa.Integer(), nullable=False),
    sa.Column('next_at', TIME(), nullable=False),
    sa.Column('sent_at', TIME(), nullable=True),
    sa.Column('fault', TEXT(), nullable=False),
    sa.PrimaryKeyConstraint('facility', 'recipient', 'id'),
    sqlite_with_rowid=False
    )
    op.create_index('ix_notice_unsent', 'notice', ['facility', 'recipient', 'next_at'],
    sqlite_where=sa.text('sent_at IS NULL'), postgresql_where=sa.text('sent_at IS NULL'))


def downgrade() -> None:
    op.drop_table('notice')
