"""Comparing what was measured with what the records say should be there, and judging the gap."""

import os

# A month's matrices are small: on a shared machine threads of the linear algebra wait for one another longer than they
# work. Has to be said before numpy is first loaded.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
