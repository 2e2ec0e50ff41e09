"""What the console shows. Logging is set up before everything else, so this knows nothing of the rest."""

from __future__ import annotations

import logging


class InsidesOfFaultsOnly(logging.Filter):
    """A page that was refused is one line in the log; where it was refused in the program tells nobody anything.

    Nor does it where the database was busy or away (503), or a disk full (507).
    """

    def filter(self, record: logging.LogRecord) -> bool:
        """Lets every record pass, with its traceback only where the program itself is at fault."""
        if (status := getattr(record, "status_code", 500)) < 500 or status in (503, 507):
            record.exc_info, record.exc_text = None, None
        return True
