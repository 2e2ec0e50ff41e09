"""The names of the accounts by which alcohol comes onto the site under suspension and leaves it.

Steps post to them, returns read them: the name of each stands here alone.
"""

from __future__ import annotations

from typing import Final

HOME_USE: Final = "home use"
EXPORT: Final = "export"
UNDER_BOND: Final = "under bond"
SAMPLES: Final = "samples"
DESTROYED: Final = "destroyed under witness"
CONSTRUCTIVE: Final = "constructive removal"

FERMENTATION: Final = "fermentation"
RECEIVED_UNDER_BOND: Final = "received under bond"
RETURNED_UNDER_BOND: Final = "returned inward under bond"
RETURNED_DUTY_PAID: Final = "returned inward, duty paid"
