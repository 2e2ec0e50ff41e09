"""A process that writes into a month until it is killed: each entry is acknowledged on a line of its own before it is
compared. Run by `killing_comparison` with the seed of what it writes and the names of two people.
"""

from __future__ import annotations

import sys
from collections.abc import Callable
from typing import Any

MOST = 10_000


def main() -> None:
    import django

    django.setup()
    from distillery.people.models import Person
    from ledger.enquiries import following
    from ledger.models import Head
    from tests.batches.random_writer import Writer

    compare: Callable[..., None] = following.catch_up

    def acknowledge_and_compare(*arguments: Any) -> None:
        head = Head.objects.get(id=1)
        print(f"acknowledged {head.last_number} {head.last_seal}", flush=True)
        compare(*arguments)

    following.catch_up = acknowledge_and_compare
    people = {one.username: one for one in Person.objects.filter(username__in=sys.argv[2:4])}
    writer = Writer(int(sys.argv[1]), people[sys.argv[2]], people[sys.argv[3]], alone=True)
    for _ in range(MOST):
        writer.write()


if __name__ == "__main__":
    main()
