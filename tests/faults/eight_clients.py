"""Eight people at eight browsers move alcohol between twenty tanks and take bottles out, all at once.

Afterwards every tank holds what it must to the microlitre, nothing is below nothing, every acknowledged movement is
there, none twice, and nobody has seen an error. Run: `python -m tests.faults.eight_clients --seconds 60`, on the engine
that DATABASE_URL names; SQLite if none. Bounded by its seconds; talks to 127.0.0.1 only.
"""

from __future__ import annotations

import argparse
import statistics
import sys
import time

from tests.faults import looking
from tests.faults.crew import Crew, muster, send_home
from tests.faults.scratch import scratch_site
from tests.running_site import serving

LONGEST_FIRST_ANSWER_S = 60


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seconds", type=float, default=60)
    parser.add_argument("--clients", type=int, default=8)
    parser.add_argument("--seed", type=int, default=1)
    options = parser.parse_args()
    crew = Crew()
    with scratch_site() as url:
        with serving(url) as address:
            crew.served_at(address)
            members = muster(crew, options.clients, options.seed)
            time.sleep(options.seconds)
            # On a machine that is busy with other things the first answer may take longer.
            until = time.monotonic() + LONGEST_FIRST_ANSWER_S
            while not crew.acknowledged and time.monotonic() < until:
                time.sleep(0.2)
            send_home(crew, members)
        wrong = [
            *crew.faults,
            *looking.proven(),
            *looking.nothing_else(crew.acknowledged, crew.corrected),
            *looking.held_where_it_must_be(crew.dips, crew.acknowledged),
        ]
    answers = sorted(crew.answers_s)
    print(
        f"{len(crew.acknowledged)} movements acknowledged to {options.clients} clients in {options.seconds:.0f} s, "
        f"{crew.doubled} sent twice, {crew.refused} removals refused, {len(crew.corrected)} corrections of which "
        f"{crew.crossed} met another; answers: median "
        f"{statistics.median(answers) * 1000:.0f} ms, longest {answers[-1] * 1000:.0f} ms."
    )
    for sentence in wrong:
        print("WRONG:", sentence)
    return 1 if wrong or not crew.acknowledged else 0


if __name__ == "__main__":
    sys.exit(main())
