"""people, what they prove by, their sessions, the scope of clients, and the access log.

Revision: 0003
"""

import sqlalchemy as sa
import sqlmodel.sql.sqltypes
from alembic import op

# As in 0002, what this writes must be what the service reads it by.
from service.access.entries import AccessEntry, AccessKind, access_log, written
from service.ledger.leaf import instant
from service.ledger.merkle import EMPTY, grow, leaf_hash

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
    connection = op.get_bind()
    for facility in connection.execute(sa.text('SELECT DISTINCT facility FROM client')).scalars():
        _enter_clients(connection, facility)
    _forbid_changes(connection.dialect.name)


def _enter_clients(connection, facility):
    """Those that were let in before there was a log are entered, as of when it was done."""
    stored = sa.MetaData()
    stored.reflect(connection, only=['client', 'leaf', 'node', 'log'])
    client, leaf, node, log = (stored.tables[n] for n in ('client', 'leaf', 'node', 'log'))
    access = sa.table('access', *(
        sa.column(n, TIME() if n == 'at' else None)
        for n in ('facility', 'number', 'kind', 'at', 'actor', 'body')
    ))
    times = (_time(client.c[n]) for n in ('created_at', 'expires_at', 'revoked_at'))
    rows = connection.execute(
        sa.select(client.c.name, client.c.role, *times)
        .where(client.c.facility == facility).order_by(client.c.token_hash)
    ).all()
    admitted = [
        AccessEntry(AccessKind.PROGRAM_ADMITTED, row.created_at, '', about={
            'client': row.name, 'role': row.role, 'until': instant(row.expires_at),
            'units': [], 'parties': [],
        })
        for row in rows
    ]
    ended = sorted({(row.revoked_at, row.name) for row in rows if row.revoked_at is not None})
    revoked = [
        AccessEntry(AccessKind.CLIENT_REVOKED, at, '', about={'client': name})
        for at, name in ended
    ]
    entries = sorted([*admitted, *revoked], key=lambda each: each.at)
    bodies = [written(entry, seq) for seq, entry in enumerate(entries, 1)]
    connection.execute(access.insert(), [
        {
            'facility': facility, 'number': number, 'kind': str(entry.kind),
            'at': entry.at, 'actor': '', 'body': body,
        }
        for number, (entry, body) in enumerate(zip(entries, bodies))
    ])
    hashes = [leaf_hash(body.encode()) for body in bodies]
    nodes, peaks = grow(0, [], hashes)
    name = access_log(facility)
    connection.execute(leaf.insert(), [
        {'facility': name, 'number': number, 'hash': hash_, 'previous': previous}
        for number, (hash_, previous) in enumerate(zip(hashes, [EMPTY, *hashes]))
    ])
    above = [
        {'facility': name, 'level': level, 'number': number, 'hash': hash_}
        for (level, number), hash_ in nodes
    ]
    if above:
        connection.execute(node.insert(), above)
    connection.execute(log.insert(), {
        'facility': name, 'size': len(hashes), 'last': hashes[-1], 'peaks': b''.join(peaks),
    })


def _time(column):
    return sa.type_coerce(column, TIME()).label(column.name)


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
