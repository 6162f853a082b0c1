"""people, what they prove by, their sessions, the scope of clients, and the access log.

Revision: 0003
"""

import sqlalchemy as sa
import sqlmodel.sql.sqltypes
from alembic import op

revision = '0003'
down_revision = '0002'
branch_labels = None
depends_on = None

TEXT = sqlmodel.sql.sqltypes.AutoString
TIME = sqlmodel.sql.sqltypes.UTCDateTime
SAID = 'the access log is never changed'


def upgrade() -> None:
    op.create_table('person',
    sa.Column('facility', TEXT(), nullable=False),
    sa.Column('id', TEXT(), nullable=False),
    sa.Column('name', TEXT(), nullable=False),
    sa.Column('role', TEXT(), nullable=False),
    sa.Column('units', TEXT(), nullable=False),
    sa.Column('parties', TEXT(), nullable=False),
    sa.Column('valid_until', TIME(), nullable=True),
    sa.Column('disabled_at', TIME(), nullable=True),
    sa.PrimaryKeyConstraint('facility', 'id')
    )
    op.create_table('credential',
    sa.Column('facility', TEXT(), nullable=False),
    sa.Column('person', TEXT(), nullable=False),
    sa.Column('kind', TEXT(), nullable=False),
    sa.Column('value', TEXT(), nullable=False),
    sa.Column('set_at', TIME(), nullable=False),
    sa.Column('expires_at', TIME(), nullable=True),
    sa.Column('used_step', sa.BigInteger(), nullable=False),
    sa.PrimaryKeyConstraint('facility', 'person', 'kind')
    )
    op.create_index('ix_credential_value', 'credential', ['facility', 'kind', 'value'])
    op.create_table('session',
    sa.Column('facility', TEXT(), nullable=False),
    sa.Column('token_hash', TEXT(), nullable=False),
    sa.Column('person', TEXT(), nullable=False),
    sa.Column('device', TEXT(), nullable=False),
    sa.Column('proof', TEXT(), nullable=False),
    sa.Column('created_at', TIME(), nullable=False),
    sa.Column('idle_until', TIME(), nullable=False),
    sa.Column('expires_at', TIME(), nullable=False),
    sa.Column('ended_at', TIME(), nullable=True),
    sa.PrimaryKeyConstraint('facility', 'token_hash')
    )
    op.create_index('ix_session_person', 'session', ['facility', 'person'])
    op.create_table('attempts',
    sa.Column('facility', TEXT(), nullable=False),
    sa.Column('subject', TEXT(), nullable=False),
    sa.Column('failures', sa.Integer(), nullable=False),
    sa.Column('last_at', TIME(), nullable=False),
    sa.PrimaryKeyConstraint('facility', 'subject')
    )
    op.create_table('access',
    sa.Column('facility', TEXT(), nullable=False),
    sa.Column('number', sa.BigInteger(), autoincrement=False, nullable=False),
    sa.Column('kind', TEXT(), nullable=False),
    sa.Column('at', TIME(), nullable=False),
    sa.Column('actor', TEXT(), nullable=False),
    sa.Column('body', sa.Text(), nullable=False),
    sa.PrimaryKeyConstraint('facility', 'number')
    )
    op.create_index('ix_access_actor', 'access', ['facility', 'kind', 'actor', 'number'])
    # One column at a time, in place: a table made anew would lose the triggers that keep it.
    for name, default in (('kind', 'program'), ('units', ''), ('parties', '')):
        op.add_column('client', sa.Column(name, TEXT(), nullable=False, server_default=default))
    op.add_column('event', sa.Column('sender', TEXT(), nullable=False, server_default=''))
    _forbid_changes(op.get_bind().dialect.name)


def downgrade() -> None:
    op.drop_column('event', 'sender')
    for name in ('parties', 'units', 'kind'):
        op.drop_column('client', name)
    for table in ('access', 'attempts', 'session', 'credential', 'person'):
        op.drop_table(table)


def _forbid_changes(dialect):
    if dialect == 'postgresql':
        op.execute(
            'CREATE TRIGGER access_is_kept BEFORE UPDATE OR DELETE ON access '
            'FOR EACH ROW EXECUTE FUNCTION custody_keeps()'
        )
        op.execute(
            'CREATE TRIGGER access_is_not_emptied BEFORE TRUNCATE ON access '
            'FOR EACH STATEMENT EXECUTE FUNCTION custody_keeps()'
        )
        return
    for act in ('UPDATE', 'DELETE'):
        op.execute(
            f'CREATE TRIGGER access_refuses_{act.lower()} BEFORE {act} ON "access" '
            f"BEGIN SELECT RAISE(ABORT, '{SAID}'); END"
        )
    op.execute(
        'CREATE TRIGGER access_refuses_a_second_number BEFORE INSERT ON "access" WHEN EXISTS '
        '(SELECT 1 FROM "access" WHERE facility = NEW.facility AND number = NEW.number) '
        f"BEGIN SELECT RAISE(ABORT, '{SAID}'); END"
    )
