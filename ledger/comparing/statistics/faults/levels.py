"""How near two explanations have to be to be shown together: plain figures, for whoever shows them too."""

import math

# A rival within a likelihood ratio of twenty to one of the best is shown together with it.
NOT_SEPARATED = 2.0 * math.log(20.0)
