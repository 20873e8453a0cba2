"""What stands in a database: tables, columns, constraints and indexes, however they came about."""

import sqlite3
from contextlib import closing

import psycopg

POSTGRES_FACTS = {
    "column": """
        SELECT table_name, column_name, CASE is_identity WHEN 'YES' THEN 'id' ELSE data_type END,
               character_maximum_length, is_nullable, column_default, is_identity, collation_name
        FROM information_schema.columns WHERE table_schema = 'public'""",
    "constraint": """
        SELECT conrelid::regclass::text, pg_get_constraintdef(oid) FROM pg_constraint
        WHERE connamespace = 'public'::regnamespace""",
    "index": """
        SELECT tablename, regexp_replace(indexdef, 'INDEX \\S+ ON', 'INDEX ON') FROM pg_indexes
        WHERE schemaname = 'public'""",
}


def facts_of_sqlite(path):
    """Each clause of each table and index, as a set: their order in a table says nothing."""
    with closing(sqlite3.connect(path)) as database:
        rows = database.execute(
            "SELECT type, tbl_name, sql FROM sqlite_master "
            "WHERE sql IS NOT NULL AND name NOT LIKE 'sqlite_%' AND name != 'django_migrations'"
        ).fetchall()
    return {(kind, table, fact) for kind, table, sql in rows for fact in _clauses(kind, sql)}


def _clauses(kind, sql):
    """The parts between the commas of a table's outer brackets; an index in one piece."""
    if kind != "table":
        return [sql]
    found, depth = [""], 0
    for sign in sql[sql.index("(") + 1 : sql.rindex(")")]:
        depth += (sign == "(") - (sign == ")")
        if sign == "," and not depth:
            found.append("")
        else:
            found[-1] += sign
    return [clause.strip() for clause in found]


def facts_of_postgres(url):
    """The same, told by the catalogue; without the names that PostgreSQL gave by itself.

    Whether an id has 32 or 64 bits is left out: Django's migrations read another setting for the
    tables between two others than its models do.
    """
    with psycopg.connect(url) as database:
        return {
            (kind, *row)
            for kind, ask in POSTGRES_FACTS.items()
            for row in database.execute(ask)
            if row[0] != "django_migrations"
        }
