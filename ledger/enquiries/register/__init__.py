"""The loss register of a month: every known loss, every gain, every difference with its enquiry.

Date, time, product, volume, strength and reason stand for each loss, with the persons who answer for it (GOV.UK,
Alcoholic products technical guide, section 14). Losses and gains are listed apart and never set off by adding up; the
sums by cause and by stage are those of the month's account. An entry and what takes it back within the month are both
left out, as the account leaves them out; across months both stand. Microlitres of pure alcohol.
"""

from __future__ import annotations

from ledger.enquiries.register.csv_text import as_csv
from ledger.enquiries.register.lines import DifferenceLine, LossLine, Register
from ledger.enquiries.register.of_period import loss_register

__all__ = ["DifferenceLine", "LossLine", "Register", "as_csv", "loss_register"]
