"""cycles of machines, their traces, what was in them, and the register of spore tests.

Revision: 0005
"""

import sqlalchemy as sa
import sqlmodel.sql.sqltypes
from alembic import op

revision = '0005'
down_revision = '0004'
branch_labels = None
depends_on = None

TEXT = sqlmodel.sql.sqltypes.AutoString
TIME = sqlmodel.sql.sqltypes.UTCDateTime
SAID = 'a trace is never changed'


def upgrade() -> None:
    op.create_table('trace',
    sa.Column('facility', TEXT(), nullable=False),
    sa.Column('sha256', TEXT(), nullable=False),
    sa.Column('content', sa.LargeBinary(), nullable=False),
    sa.PrimaryKeyConstraint('facility', 'sha256')
    )
    op.create_table('bearing',
    sa.Column('facility', TEXT(), nullable=False),
    sa.Column('subject', TEXT(), nullable=False),
    sa.Column('name', TEXT(), nullable=False),
    sa.Column('seq', sa.BigInteger(), autoincrement=False, nullable=False),
    sa.PrimaryKeyConstraint('facility', 'subject', 'name', 'seq'),
    sqlite_with_rowid=False
    )
    op.create_table('spore',
    sa.Column('facility', TEXT(), nullable=False),
    sa.Column('machine', TEXT(), nullable=False),
    sa.Column('at', TIME(), nullable=False),
    sa.Column('event', TEXT(), nullable=False),
    sa.Column('grew', sa.Boolean(), nullable=False),
    sa.PrimaryKeyConstraint('facility', 'machine', 'at', 'event'),
    sqlite_with_rowid=False
    )
    op.create_table('cycle',
    sa.Column('facility', TEXT(), nullable=False),
    sa.Column('cycle', TEXT(), nullable=False),
    sa.Column('machine', TEXT(), nullable=True),
    sa.Column('party', TEXT(), nullable=True),
    sa.Column('step', TEXT(), nullable=True),
    sa.Column('started_at', TIME(), nullable=True),
    sa.Column('ended_at', TIME(), nullable=True),
    sa.Column('run', TEXT(), nullable=True),
    sa.Column('outcome', TEXT(), nullable=False),
    sa.Column('proof', sa.Text(), nullable=False),
    sa.PrimaryKeyConstraint('facility', 'cycle'),
    sqlite_with_rowid=False
    )
    op.create_index('ix_cycle_machine', 'cycle', ['facility', 'machine', 'started_at'])
    op.create_index('ix_cycle_started', 'cycle', ['facility', 'started_at'])
    op.create_table('loaded',
    sa.Column('facility', TEXT(), nullable=False),
    sa.Column('cycle', TEXT(), nullable=False),
    sa.Column('container', TEXT(), nullable=False),
    sa.PrimaryKeyConstraint('facility', 'cycle', 'container'),
    sqlite_with_rowid=False
    )
    op.create_index('ix_loaded_container', 'loaded', ['facility', 'container'])
    _forbid_changes(op.get_bind().dialect.name)


def downgrade() -> None:
    for table in ('loaded', 'cycle', 'spore', 'bearing', 'trace'):
        op.drop_table(table)


def _forbid_changes(dialect):
    if dialect == 'postgresql':
        op.execute(
            'CREATE TRIGGER trace_is_kept BEFORE UPDATE OR DELETE ON trace '
            'FOR EACH ROW EXECUTE FUNCTION custody_keeps()'
        )
        op.execute(
            'CREATE TRIGGER trace_is_not_emptied BEFORE TRUNCATE ON trace '
            'FOR EACH STATEMENT EXECUTE FUNCTION custody_keeps()'
        )
        return
    for act in ('UPDATE', 'DELETE'):
        op.execute(
            f'CREATE TRIGGER trace_refuses_{act.lower()} BEFORE {act} ON "trace" '
            f"BEGIN SELECT RAISE(ABORT, '{SAID}'); END"
        )
    op.execute(
        'CREATE TRIGGER trace_refuses_a_second_sha256 BEFORE INSERT ON "trace" WHEN EXISTS '
        '(SELECT 1 FROM "trace" WHERE facility = NEW.facility AND sha256 = NEW.sha256) '
        f"BEGIN SELECT RAISE(ABORT, '{SAID}'); END"
    )
