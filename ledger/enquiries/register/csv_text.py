"""The loss register as comma-separated text."""

from __future__ import annotations

import csv
from io import StringIO

from distillery import tables_out
from distillery.figures import PLAIN, litres, lpa, percent
from ledger.enquiries.models import Ending
from ledger.enquiries.register.lines import Register
from ledger.enquiries.standing import Standing

CSV_COLUMNS = (
    "what",
    "happened_at",
    "written_at",
    "record",
    "operation",
    "product",
    "cause",
    "litres20",
    "percent20",
    "lpa",
    "explained_lpa",
    "reason",
    "persons",
    "enquiry",
    "state",
    "movement",
)


def as_csv(register: Register) -> str:
    """The register as comma-separated text: losses, then gains, then differences; figures plain, exact to 4 places."""
    text = StringIO()
    out = csv.writer(text, lineterminator="\r\n")
    out.writerow(CSV_COLUMNS)
    for what, lines in (("known loss", register.losses), ("gain", register.gains)):
        for line in lines:
            out.writerow(
                tables_out.row(
                    [
                        what,
                        line.at.isoformat(),
                        line.written_at.isoformat(),
                        line.record,
                        line.operation,
                        line.product,
                        line.cause,
                        "" if line.litres20 is None else litres(line.litres20, 2, PLAIN),
                        "" if line.percent20 is None else percent(line.percent20, 2, PLAIN),
                        lpa(line.pure_ul, 4, PLAIN),
                        "",
                        line.reason,
                        "; ".join(line.persons),
                        line.enquiry,
                        "",
                        line.movement,
                    ]
                )
            )
    for one in register.differences:
        decided = one.standing.decided
        out.writerow(
            tables_out.row(
                [
                    "difference",
                    one.at.isoformat(),
                    "",
                    one.record,
                    one.operation,
                    one.stage,
                    _cause(one.standing),
                    "",
                    "",
                    lpa(one.open_ul, 4, PLAIN),
                    lpa(one.explained_ul, 4, PLAIN),
                    decided.text if decided else "",
                    decided.person.shown_name if decided and decided.person else "",
                    one.standing.enquiry.number,
                    str(one.standing.state),
                    "",
                ]
            )
        )
    out.writerow(
        [
            "differences no enquiry is about",
            "",
            "",
            "",
            "",
            "",
            "",
            "",
            "",
            lpa(register.within_missing_ul + register.within_extra_ul, 4, PLAIN),
            "",
            f"{register.within_count} differences: {lpa(register.within_missing_ul, 4, PLAIN)} missing, "
            f"{lpa(abs(register.within_extra_ul), 4, PLAIN)} over",
            "",
            "",
            "",
            "",
        ]
    )
    return text.getvalue()


def _cause(standing: Standing) -> str:
    decided = standing.decided
    if decided is None or not decided.ending:
        return ""
    return decided.cause or Ending(decided.ending).label
