"""The server is killed (signal 9) at random moments while people write, started again, and looked over each time.

After every start the ledger proves, and every movement that was ever acknowledged is there. Sheets without an answer
are sent again as they were. Run: `python -m tests.faults.killing --kills 200`, on the engine that DATABASE_URL names;
SQLite if none. Bounded by its kills and, where `--minutes` says so, by time; talks to 127.0.0.1 only.
"""

from __future__ import annotations

import argparse
import math
import random
import sys
import time

from tests.faults import looking
from tests.faults.crew import Crew, muster, send_home
from tests.faults.ready_servers import ReadyServers
from tests.faults.scratch import scratch_site, wait_until_nobody_writes

LONGEST_LIFE_S = 1.0
LONGEST_UNTIL_SAVED_S = 30
# Most are killed after something has been saved; the others at their very first request or before it.
AT_WORK = 0.85


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--kills", type=int, default=200)
    parser.add_argument("--clients", type=int, default=4)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--minutes", type=float, default=math.inf, help="stop then, and say how far it went")
    options = parser.parse_args()
    dice = random.Random(options.seed)
    crew = Crew()
    wrong: list[str] = []
    killed = 0
    until = time.monotonic() + options.minutes * 60
    with scratch_site() as url, ReadyServers(url) as server:
        members = muster(crew, options.clients, options.seed)
        address = server.start()
        while killed < options.kills and time.monotonic() < until and not wrong and not crew.faults:
            crew.served_at(address)
            if dice.random() < AT_WORK:
                crew.saved.wait(LONGEST_UNTIL_SAVED_S)
            time.sleep(dice.uniform(0, LONGEST_LIFE_S))
            # What was acknowledged before the blow must be there after it.
            corrected = list(crew.corrected)
            known = crew.acknowledged.copy()
            server.kill()
            crew.gone()
            killed += 1
            wait_until_nobody_writes()
            address = server.start()
            wrong = [*looking.proven(), *looking.all_there(known, corrected)]
        crew.served_at(address)
        send_home(crew, members)
        server.kill()
        wait_until_nobody_writes()
        wrong += [
            *crew.faults,
            *looking.proven(),
            *looking.nothing_else(crew.acknowledged, crew.corrected),
            *looking.held_where_it_must_be(crew.dips, crew.acknowledged),
        ]
    print(
        f"{killed} kills, {len(crew.acknowledged)} movements and {len(crew.corrected)} corrections acknowledged, "
        f"{crew.resent} sheets sent again, "
        f"{crew.doubled} sent twice at once."
    )
    for sentence in wrong:
        print("WRONG:", sentence)
    return 1 if wrong or killed < options.kills or not crew.acknowledged else 0


if __name__ == "__main__":
    sys.exit(main())
