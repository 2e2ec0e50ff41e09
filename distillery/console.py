"""What the console shows. Logging is set up before everything else, so this knows nothing of the rest."""

from __future__ import annotations

import logging


class InsidesOfFaultsOnly(logging.Filter):
    """A page that was refused is one line in the log; where it was refused in the program tells nobody anything."""

    def filter(self, record: logging.LogRecord) -> bool:
        """Lets every record pass, without its traceback where the answer was below 500."""
        if getattr(record, "status_code", 500) < 500:
            record.exc_info, record.exc_text = None, None
        return True
