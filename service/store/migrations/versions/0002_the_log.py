"""the log: a leaf for every entry and version of the set-up, and triggers that keep what is written.

Revision: 0002
"""

import json

import sqlalchemy as sa
import sqlmodel.sql.sqltypes
from alembic import op

# The ledger's own code, not a copy of it: hashes are as RFC 9162 fixes them, and the leaf of an
# entry or a set-up that was recorded can never change, or every signed log would stop agreeing with
# its record. What this writes must be what the service reads it by, so the two are one.
from service.custody.events import Origin
from service.custody.site import Site
from service.ledger.leaf import SiteVersion, canonical, leaf_of, setup_leaf, site_kept
from service.ledger.merkle import EMPTY, grow, leaf_hash

revision = '0002'
down_revision = '0001'
branch_labels = None
depends_on = None

KEPT = ('setup', 'event', 'leaf', 'node', 'checkpoint')
"""Tables whose rows are written once: neither changed nor deleted."""

UNIQUE = {
    'setup': (('version',),),
    'event': (('seq',), ('id',)),
    'leaf': (('number',), ('previous',)),
    'node': (('level', 'number'),),
    'checkpoint': (('size', 'signed_by'),),
}
"""What no two rows of a facility share."""

CHUNK = 1_000


def upgrade() -> None:
    op.create_table('checkpoint',
    sa.Column('facility', sqlmodel.sql.sqltypes.AutoString(), nullable=False),
    sa.Column('size', sa.BigInteger(), autoincrement=False, nullable=False),
    sa.Column('signed_by', sqlmodel.sql.sqltypes.AutoString(), nullable=False),
    sa.Column('signed_at', sqlmodel.sql.sqltypes.UTCDateTime(), nullable=False),
    sa.Column('note', sa.Text(), nullable=False),
    sa.PrimaryKeyConstraint('facility', 'size', 'signed_by'),
    sqlite_with_rowid=False
    )
    op.create_table('leaf',
    sa.Column('facility', sqlmodel.sql.sqltypes.AutoString(), nullable=False),
    sa.Column('number', sa.BigInteger(), autoincrement=False, nullable=False),
    sa.Column('hash', sa.LargeBinary(length=32), nullable=False),
    sa.Column('previous', sa.LargeBinary(length=32), nullable=False),
    sa.CheckConstraint('number >= 0', name='ck_leaf_number'),
    sa.PrimaryKeyConstraint('facility', 'number'),
    sa.UniqueConstraint('facility', 'previous', name='uq_leaf_previous'),
    sqlite_with_rowid=False
    )
    op.create_table('log',
    sa.Column('facility', sqlmodel.sql.sqltypes.AutoString(), nullable=False),
    sa.Column('size', sa.BigInteger(), nullable=False),
    sa.Column('last', sa.LargeBinary(length=32), nullable=False),
    sa.Column('peaks', sa.LargeBinary(), nullable=False),
    sa.PrimaryKeyConstraint('facility')
    )
    op.create_table('node',
    sa.Column('facility', sqlmodel.sql.sqltypes.AutoString(), nullable=False),
    sa.Column('level', sa.Integer(), nullable=False),
    sa.Column('number', sa.BigInteger(), autoincrement=False, nullable=False),
    sa.Column('hash', sa.LargeBinary(length=32), nullable=False),
    sa.PrimaryKeyConstraint('facility', 'level', 'number'),
    sqlite_with_rowid=False
    )
    with op.batch_alter_table('setup') as batch_op:
        batch_op.add_column(sa.Column('number', sa.BigInteger(), nullable=True))
    connection = op.get_bind()
    for facility in connection.execute(sa.text('SELECT DISTINCT facility FROM setup')).scalars():
        _write_log(connection, facility)
    with op.batch_alter_table('setup') as batch_op:
        batch_op.alter_column('number', existing_type=sa.BigInteger(), nullable=False)
    _forbid_changes(connection.dialect.name)


def downgrade() -> None:
    _allow_changes(op.get_bind().dialect.name)
    with op.batch_alter_table('setup') as batch_op:
        batch_op.drop_column('number')
    for table in ('node', 'log', 'leaf', 'checkpoint'):
        op.drop_table(table)


def _write_log(connection, facility):
    """Entries in the order of their arrival, whose numbers they keep; then the set-ups."""
    stored = sa.MetaData()
    stored.reflect(connection, only=['event', 'setup', 'leaf', 'node', 'log'])
    event, setup, leaf, node, log = (
        stored.tables[n] for n in ('event', 'setup', 'leaf', 'node', 'log')
    )
    size, last, peaks = 0, EMPTY, []

    def extend(leaves):
        nonlocal size, last, peaks
        hashes = [leaf_hash(each) for each in leaves]
        nodes, peaks = grow(size, peaks, hashes)
        rows = [
            {'facility': facility, 'number': number, 'hash': hash_, 'previous': previous}
            for number, hash_, previous in zip(range(size, size + len(hashes)), hashes, [last, *hashes])
        ]
        connection.execute(leaf.insert(), rows)
        above = [
            {'facility': facility, 'level': level, 'number': number, 'hash': hash_}
            for (level, number), hash_ in nodes
        ]
        if above:
            connection.execute(node.insert(), above)
        size, last = size + len(hashes), hashes[-1]

    of_facility = sa.select(
        event.c.seq, event.c.body, _instant(event.c.recorded_at), event.c.clock_offset_s,
        event.c.false_codes, event.c.origin,
    ).where(event.c.facility == facility).order_by(event.c.seq)
    while rows := connection.execute(of_facility.where(event.c.seq > size).limit(CHUNK)).all():
        if [row.seq for row in rows] != list(range(size + 1, size + 1 + len(rows))):
            raise ValueError(f'the record of {facility} has a gap after entry {size}')
        extend(
            [
                leaf_of(
                    row.body, row.recorded_at, row.clock_offset_s, row.false_codes.split(),
                    Origin(*json.loads(row.origin)) if row.origin else None,
                )
                for row in rows
            ]
        )
    versions = sa.select(setup.c.version, _instant(setup.c.recorded_at), setup.c.document)
    for row in connection.execute(
        versions.where(setup.c.facility == facility).order_by(setup.c.version)
    ).all():
        site = Site.model_validate_json(row.document)
        connection.execute(
            setup.update()
            .where(setup.c.facility == facility, setup.c.version == row.version)
            .values(number=size, document=canonical(site_kept(site)))
        )
        extend([setup_leaf(SiteVersion(site, row.version, row.recorded_at))])
    connection.execute(
        log.insert(), {'facility': facility, 'size': size, 'last': last, 'peaks': b''.join(peaks)}
    )


def _instant(column):
    return sa.type_coerce(column, sqlmodel.sql.sqltypes.UTCDateTime()).label(column.name)


def _forbid_changes(dialect):
    said = 'the record is never changed: a mistake is corrected by a further entry'
    if dialect == 'postgresql':
        op.execute(
            'CREATE FUNCTION custody_keeps() RETURNS trigger LANGUAGE plpgsql AS '
            f"$$ BEGIN RAISE EXCEPTION '{said}'; END $$"
        )
    for table in KEPT:
        if dialect == 'postgresql':
            op.execute(
                f'CREATE TRIGGER {table}_is_kept BEFORE UPDATE OR DELETE ON {table} '
                'FOR EACH ROW EXECUTE FUNCTION custody_keeps()'
            )
            op.execute(
                f'CREATE TRIGGER {table}_is_not_emptied BEFORE TRUNCATE ON {table} '
                'FOR EACH STATEMENT EXECUTE FUNCTION custody_keeps()'
            )
            continue
        for act in ('UPDATE', 'DELETE'):
            op.execute(
                f'CREATE TRIGGER {table}_refuses_{act.lower()} BEFORE {act} ON "{table}" '
                f"BEGIN SELECT RAISE(ABORT, '{said}'); END"
            )
        # INSERT OR REPLACE deletes without a word: what is there already is refused before it does.
        for columns in UNIQUE[table]:
            same = ' AND '.join(f'{column} = NEW.{column}' for column in columns)
            op.execute(
                f'CREATE TRIGGER {table}_refuses_a_second_{"_".join(columns)} '
                f'BEFORE INSERT ON "{table}" WHEN EXISTS '
                f'(SELECT 1 FROM "{table}" WHERE facility = NEW.facility AND {same}) '
                f"BEGIN SELECT RAISE(ABORT, '{said}'); END"
            )


def _allow_changes(dialect):
    for table in KEPT:
        if dialect == 'postgresql':
            op.execute(f'DROP TRIGGER {table}_is_kept ON {table}')
            op.execute(f'DROP TRIGGER {table}_is_not_emptied ON {table}')
            continue
        for act in ('update', 'delete'):
            op.execute(f'DROP TRIGGER {table}_refuses_{act}')
        for columns in UNIQUE[table]:
            op.execute(f'DROP TRIGGER {table}_refuses_a_second_{"_".join(columns)}')
    if dialect == 'postgresql':
        op.execute('DROP FUNCTION custody_keeps()')
