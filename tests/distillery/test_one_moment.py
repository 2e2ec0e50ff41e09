"""Questions answered as of one moment, whatever another connection writes meanwhile, and nobody held up."""

from __future__ import annotations

from tests.running_site import Databases, run

ASKS = """
from django.db import connections, connection
from distillery.database.one_moment import as_at_one_moment

with connection.cursor() as cursor:
    cursor.execute("CREATE TABLE moment_of_test (number integer)")

def count():
    with connection.cursor() as cursor:
        cursor.execute("SELECT count(*) FROM moment_of_test")
        return cursor.fetchone()[0]

def write():
    other = connections.create_connection("default")
    with other.cursor() as cursor:
        cursor.execute("INSERT INTO moment_of_test VALUES (1)")
    other.close()

said = []
with as_at_one_moment():
    said.append(count())
    write()
    said.append(count())
said.append(count())
try:
    with as_at_one_moment():
        count()
        raise ZeroDivisionError
except ZeroDivisionError:
    pass
write()
said.append(count())
print(said)
"""


def test_what_is_written_meanwhile_is_seen_afterwards_only(databases: Databases) -> None:
    url = databases.new()
    journal = "from django.db import connection; connection.ensure_connection()"
    assert run(url, "shell", "--no-imports", "-c", journal).returncode == 0
    done = run(url, "shell", "--no-imports", "-c", ASKS)
    assert done.stdout.strip() == "[0, 0, 1, 2]", done.stdout + done.stderr
