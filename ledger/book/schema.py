"""The file: its tables, what may never change in them, and the way from an earlier version.

Two sorts of tables. *Record* tables hold what was said and what follows from it; the database itself refuses to
update, delete or overwrite a row. *Sum* tables (`standing`, `missed`, `on_the_way`, `open_job`, `period_sum`,
`area_clock`) only save adding up; `verify` derives them again. So it does the *kept* tables (`carried`, `carried_rows`,
`carried_balance`): what past periods left, written by those who read; rows of them may be missing.

Masses are whole nanograms. JSON arrays in `line` are amounts in the order of `metal.position`, gross first.
Instants are microseconds since 1970-01-01 UTC; texts of time are plant time as read.
"""

from __future__ import annotations

import sqlite3
from typing import Final

APPLICATION_ID: Final = 0x4C454D4C  # "LEML"
SCHEMA_VERSION: Final = 2

_RECORD_TABLES: Final[dict[str, str]] = {
    "metal": """
        position INTEGER PRIMARY KEY CHECK (position >= 0),
        metal TEXT NOT NULL UNIQUE""",
    "record": """
        seq INTEGER PRIMARY KEY CHECK (seq > 0),
        kind TEXT NOT NULL CHECK (kind IN ('setup', 'ticket', 'close')),
        body TEXT NOT NULL,
        hash BLOB NOT NULL CHECK (length(hash) = 32),
        recorded_at TEXT NOT NULL,
        recorded_by TEXT NOT NULL,
        chain BLOB NOT NULL CHECK (length(chain) = 32)""",
    "setup_version": """
        seq INTEGER PRIMARY KEY REFERENCES record (seq),
        since INTEGER NOT NULL,
        document TEXT NOT NULL""",
    "ticket": """
        seq INTEGER PRIMARY KEY REFERENCES record (seq),
        number TEXT NOT NULL UNIQUE,
        kind TEXT NOT NULL,
        instant INTEGER NOT NULL,
        period TEXT NOT NULL,
        operation TEXT,
        job INTEGER REFERENCES lot (id),
        reverses INTEGER UNIQUE REFERENCES ticket (seq),
        corrects INTEGER UNIQUE REFERENCES ticket (seq)""",
    "void_number": """
        number TEXT PRIMARY KEY,
        ticket INTEGER NOT NULL REFERENCES ticket (seq)""",
    "lot": """
        id INTEGER PRIMARY KEY CHECK (id > 0),
        number TEXT NOT NULL UNIQUE,
        kind TEXT NOT NULL CHECK (kind IN ('lot', 'bin', 'job')),
        made_by INTEGER NOT NULL REFERENCES ticket (seq),
        form TEXT, class TEXT, alloy TEXT, clad TEXT, owner TEXT, serial TEXT, layer TEXT""",
    "determination": """
        id INTEGER PRIMARY KEY CHECK (id > 0),
        ticket INTEGER NOT NULL REFERENCES ticket (seq),
        basis TEXT NOT NULL CHECK (basis IN ('measured', 'calculated', 'nominal', 'estimated')),
        method TEXT,
        sd TEXT,
        composition TEXT NOT NULL""",
    "derivation": """
        id INTEGER PRIMARY KEY CHECK (id > 0),
        determination INTEGER NOT NULL REFERENCES determination (id),
        source INTEGER NOT NULL REFERENCES determination (id),
        weight TEXT NOT NULL""",
    "valuation": """
        id INTEGER PRIMARY KEY CHECK (id > 0),
        ticket INTEGER NOT NULL REFERENCES ticket (seq),
        lot INTEGER NOT NULL REFERENCES lot (id),
        determination INTEGER REFERENCES determination (id),
        origin TEXT,
        awaiting TEXT""",
    "parent": """
        id INTEGER PRIMARY KEY CHECK (id > 0),
        ticket INTEGER NOT NULL REFERENCES ticket (seq),
        lot INTEGER NOT NULL REFERENCES lot (id),
        parent INTEGER NOT NULL REFERENCES lot (id)""",
    "line": """
        id INTEGER PRIMARY KEY CHECK (id > 0),
        ticket INTEGER NOT NULL REFERENCES ticket (seq),
        number INTEGER NOT NULL,
        side TEXT NOT NULL,
        area TEXT NOT NULL,
        lot INTEGER NOT NULL REFERENCES lot (id),
        instant INTEGER NOT NULL,
        determination INTEGER REFERENCES determination (id),
        scale TEXT,
        weighed_ng INTEGER,
        settles INTEGER NOT NULL CHECK (settles IN (0, 1)),
        recorded TEXT,
        content TEXT NOT NULL,
        given TEXT""",
    "count_sheet": """
        ticket INTEGER PRIMARY KEY REFERENCES ticket (seq),
        area TEXT NOT NULL,
        count TEXT NOT NULL,
        sheet TEXT,
        team TEXT NOT NULL,
        ended INTEGER NOT NULL CHECK (ended IN (0, 1)),
        spot INTEGER NOT NULL CHECK (spot IN (0, 1)),
        take_on INTEGER NOT NULL CHECK (take_on IN (0, 1))""",
    "opened": """
        ticket INTEGER PRIMARY KEY REFERENCES ticket (seq),
        area TEXT NOT NULL""",
    "job_state": """
        id INTEGER PRIMARY KEY CHECK (id > 0),
        ticket INTEGER NOT NULL REFERENCES ticket (seq),
        lot INTEGER NOT NULL REFERENCES lot (id),
        area TEXT NOT NULL,
        operation TEXT NOT NULL,
        opened INTEGER NOT NULL,
        mass_in INTEGER NOT NULL,
        fume_due TEXT NOT NULL,
        surface TEXT NOT NULL,
        calculated INTEGER NOT NULL CHECK (calculated IN (0, 1)),
        done INTEGER NOT NULL CHECK (done IN (0, 1))""",
    "checked": """
        ticket INTEGER PRIMARY KEY REFERENCES ticket (seq),
        scale TEXT,
        method TEXT,
        calibrated INTEGER NOT NULL CHECK (calibrated IN (0, 1))""",
    "posting": """
        id INTEGER PRIMARY KEY CHECK (id > 0),
        ticket INTEGER NOT NULL REFERENCES ticket (seq),
        line INTEGER NOT NULL,
        instant INTEGER NOT NULL,
        period TEXT NOT NULL,
        class TEXT NOT NULL CHECK (CASE class
            WHEN 'place' THEN 1 WHEN 'difference' THEN 1 WHEN 'transit' THEN 1 WHEN 'dust' THEN 1 WHEN 'loss' THEN 1
            WHEN 'party' THEN 1 WHEN 'own' THEN 1 WHEN 'give-away' THEN 1 WHEN 'retained' THEN 1 ELSE 0 END),
        area TEXT,
        lot INTEGER REFERENCES lot (id),
        party TEXT,
        terms TEXT,
        cause TEXT,
        move TEXT,
        origin TEXT,
        prior INTEGER NOT NULL CHECK (prior IN (0, 1)),
        metal TEXT NOT NULL,
        ng INTEGER NOT NULL CHECK (ng <> 0)""",
    "flag": """
        id INTEGER PRIMARY KEY CHECK (id > 0),
        ticket INTEGER NOT NULL REFERENCES ticket (seq),
        line INTEGER NOT NULL,
        flag TEXT NOT NULL,
        words TEXT NOT NULL""",
    "close": """
        seq INTEGER PRIMARY KEY REFERENCES ticket (seq),
        period TEXT NOT NULL UNIQUE,
        ends INTEGER NOT NULL UNIQUE,
        root BLOB NOT NULL CHECK (length(root) = 32),
        seal BLOB NOT NULL UNIQUE CHECK (length(seal) = 32)""",
}

#: The record that a row of a record table follows from, where it is not its column `ticket`; `{r}` is the row, `{s}`
#: the database.
_OWNER: Final = {
    "metal": "1",
    "record": "{r}.seq",
    "setup_version": "{r}.seq",
    "ticket": "{r}.seq",
    "close": "{r}.seq",
    "lot": "{r}.made_by",
    "derivation": "coalesce((SELECT ticket FROM {s}.determination AS d WHERE d.id = {r}.determination), 1)",
}

_SUM_TABLES: Final[dict[str, str]] = {
    "standing": """
        area TEXT NOT NULL,
        lot INTEGER NOT NULL REFERENCES lot (id),
        amounts TEXT NOT NULL,
        on_hand INTEGER NOT NULL,
        last_instant INTEGER NOT NULL,
        last_ticket TEXT NOT NULL,
        PRIMARY KEY (area, lot)""",
    "missed": """
        area TEXT NOT NULL,
        lot INTEGER NOT NULL REFERENCES lot (id),
        amounts TEXT NOT NULL,
        ticket INTEGER NOT NULL REFERENCES ticket (seq),
        PRIMARY KEY (area, lot)""",
    "on_the_way": """
        move TEXT NOT NULL,
        lot INTEGER NOT NULL REFERENCES lot (id),
        sender TEXT NOT NULL,
        receiver TEXT NOT NULL,
        instant INTEGER NOT NULL,
        amounts TEXT NOT NULL,
        PRIMARY KEY (move, lot)""",
    "open_job": """
        lot INTEGER PRIMARY KEY REFERENCES lot (id),
        area TEXT NOT NULL""",
    "period_sum": """
        period TEXT NOT NULL,
        class TEXT NOT NULL,
        area TEXT NOT NULL,
        party TEXT NOT NULL,
        terms TEXT NOT NULL,
        cause TEXT NOT NULL,
        origin TEXT NOT NULL,
        prior INTEGER NOT NULL,
        metal TEXT NOT NULL,
        ng INTEGER NOT NULL,
        PRIMARY KEY (period, class, area, party, terms, cause, origin, prior, metal)""",
    "area_clock": """
        area TEXT PRIMARY KEY,
        instant INTEGER NOT NULL,
        ticket TEXT NOT NULL""",
}

#: What past periods left behind them, for the periods after: derived like sums, by ``ledger.balance.months``.
_KEPT_TABLES: Final[dict[str, str]] = {
    "carried": """
        ends INTEGER PRIMARY KEY,
        period TEXT NOT NULL,
        record INTEGER NOT NULL,
        periods INTEGER NOT NULL,
        program TEXT NOT NULL,
        state TEXT NOT NULL""",
    "carried_rows": """
        ends INTEGER NOT NULL,
        metal TEXT NOT NULL,
        rows TEXT NOT NULL,
        PRIMARY KEY (ends, metal)""",
    "carried_balance": """
        ends INTEGER NOT NULL,
        metal TEXT NOT NULL,
        area TEXT NOT NULL,
        unexplained INTEGER NOT NULL,
        prior_period INTEGER NOT NULL,
        unrated INTEGER NOT NULL CHECK (unrated IN (0, 1)),
        counted INTEGER,
        dust INTEGER NOT NULL,
        covariances TEXT NOT NULL,
        whole TEXT NOT NULL,
        PRIMARY KEY (ends, metal, area)""",
}

INDEXES: Final[tuple[str, ...]] = (
    "CREATE INDEX standing_on_hand ON standing (area) WHERE on_hand = 1",
    "CREATE INDEX standing_of_lot ON standing (lot)",
    "CREATE INDEX missed_lot ON missed (lot)",
    "CREATE INDEX ticket_period ON ticket (period)",
    "CREATE INDEX ticket_instant ON ticket (instant)",
    "CREATE INDEX ticket_written_off ON ticket (kind) WHERE kind = 'writeoff'",
    "CREATE INDEX posting_ticket ON posting (ticket)",
    "CREATE INDEX posting_period ON posting (period)",
    "CREATE INDEX line_ticket ON line (ticket)",
    "CREATE INDEX line_lot ON line (lot)",
    "CREATE INDEX line_determination ON line (determination)",
    "CREATE INDEX valuation_ticket ON valuation (ticket)",
    "CREATE INDEX valuation_lot ON valuation (lot)",
    "CREATE INDEX valuation_determination ON valuation (determination)",
    "CREATE INDEX derivation_source ON derivation (source)",
    "CREATE INDEX parent_lot ON parent (lot)",
    "CREATE INDEX parent_parent ON parent (parent)",
    "CREATE INDEX job_state_lot ON job_state (lot)",
    "CREATE INDEX ticket_job ON ticket (job) WHERE job IS NOT NULL",
    "CREATE INDEX on_the_way_lot ON on_the_way (lot)",
    "CREATE INDEX checked_scale ON checked (scale)",
    "CREATE INDEX flag_ticket ON flag (ticket)",
    "CREATE INDEX count_area ON count_sheet (area)",
    "CREATE INDEX opened_area ON opened (area)",
)

#: The columns that identify a row, where they are not the table's first column alone.
_UNIQUE: Final = {
    "metal": ("position", "metal"),
    "ticket": ("seq", "number", "reverses", "corrects"),
    "lot": ("id", "number"),
    "close": ("seq", "period", "ends", "seal"),
}

RECORD_TABLES: Final = tuple(_RECORD_TABLES)
SUM_TABLES: Final = tuple(_SUM_TABLES)
KEPT_TABLES: Final = tuple(_KEPT_TABLES)

_TABLES: Final = _RECORD_TABLES | _SUM_TABLES | _KEPT_TABLES
_NO_ROWID: Final = frozenset(_SUM_TABLES | _KEPT_TABLES)


def statements() -> list[str]:
    """Return every statement that makes an empty book, in order."""
    tables = [_create(name, body) for name, body in _TABLES.items()]
    guards = [guard for name in _RECORD_TABLES for guard in _guards(name)]
    return [*tables, *INDEXES, *guards]


def table_statements(name: str) -> list[str]:
    """Return the statements that make one table, and the guards of a record table: what a migration adds."""
    return [_create(name, _TABLES[name]), *(_guards(name) if name in _RECORD_TABLES else ())]


def owner(table: str, row: str, database: str = "main") -> str:
    """Return, in SQL, the place of the record that a row of a record table follows from."""
    return _OWNER.get(table, "{r}.ticket").format(r=row, s=database)


def _create(name: str, body: str) -> str:
    options = "STRICT, WITHOUT ROWID" if name in _NO_ROWID else "STRICT"
    return f"CREATE TABLE {name} ({body}) {options}"


def _guards(table: str) -> list[str]:
    """Return the triggers that refuse change; the third because INSERT OR REPLACE slips past the first two."""
    first_column = _RECORD_TABLES[table].split()[0]
    keys = _UNIQUE.get(table, (first_column,))
    over = " OR ".join(f"EXISTS (SELECT 1 FROM {table} WHERE {key} = NEW.{key})" for key in keys)
    refuse = f"SELECT RAISE(ABORT, '{table} is append-only')"
    return [
        f"CREATE TRIGGER {table}_no_update BEFORE UPDATE ON {table} BEGIN {refuse}; END",
        f"CREATE TRIGGER {table}_no_delete BEFORE DELETE ON {table} BEGIN {refuse}; END",
        f"CREATE TRIGGER {table}_no_overwrite BEFORE INSERT ON {table} WHEN {over} BEGIN {refuse}; END",
    ]


def create(connection: sqlite3.Connection) -> None:
    """Make the tables of an empty book inside the caller's transaction."""
    for statement in statements():
        connection.execute(statement)
    connection.execute(f"PRAGMA application_id = {APPLICATION_ID}")
    connection.execute(f"PRAGMA user_version = {SCHEMA_VERSION}")
