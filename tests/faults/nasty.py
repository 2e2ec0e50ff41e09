"""Things that people paste, scanners send and hostile hands try: texts, figures, times and whole request bodies."""

from __future__ import annotations

import io
import random

NUL = "\0"

FIGURES = (
    "0",
    "0.0",
    "-0",
    "-1",
    "1e3",
    "1e30",
    "1e400",
    "1E-400",
    "9" * 401,
    "0." + "0" * 60 + "1",
    "0.0000001",
    "99999",
    "100",
    "100.0001",
    "-40",
    "273.15",
    "NaN",
    "inf",
    "-inf",
    "1_000",
    "1,000,000",
    "63,5",
    "1.2.3",
    "63.5 % vol",
    "2147483648",
    "9223372036854775808",
    "-9223372036854775809",
    "\u0663",
    "\uff11\uff12",
    "\u00b2",
    "0x10",
    "1/3",
)
TIMES = (
    "9999-12",
    "9999-12-31",
    "9999-12-31T23:59",
    "9999-12-31T23:59-12:00",
    "0001-01-01",
    "0001-01-01T00:00+14:00",
    "0000-00-00",
    "0000-01",
    "2027-02-30",
    "2027-13",
    "2027-00",
    "2027-03-28T01:30",
    "2027-10-31T01:30",
    "24:00",
    "2027-03",
    "1899-12",
    "2199-12-31T23:59",
    "2200-01",
    "99999-01",
    "2027-03-04T05:06:07.000000+00:00~1~1",
    "9999-12-31T23:59:59+00:00~9223372036854775808~1",
    "0001-01-01T00:00:00+14:00_1",
    "9999-12-31T23:59:59-12:00_9",
)
TEXTS = (
    "",
    " ",
    "\t",
    "x",
    "x" * 41,
    "x" * 121,
    "x" * 2_000,
    "x" * 60_000,
    "word " * 2_000,
    NUL,
    f"a{NUL}b",
    "=1+1",
    "@SUM(1)",
    "+1|x",
    "'",
    '"',
    "';--",
    "<script>alert(1)</script>",
    "{{ 7 }}",
    "{% now %}",
    "%",
    "%s%s%n",
    "_",
    "\\",
    "*",
    "?",
    "../../../etc/passwd",
    "/etc/passwd",
    "\r\nSet-Cookie: a=b",
    "\u202e",
    "\u0000\u0001\u001f",
    "\ufffe",
    "e\u0301" * 40,
    "\U0001f4a7" * 50,
    "null",
    "true",
    "[]",
    "{}",
    "on",
    "TR0001",
    "tr0001",
    "SR0001",
    "EQ0001",
    "V1",
    "1/27",
    "1/27/..",
    "2147483648:1",
    "gross_kg:1",
    "line-0-gross_kg:9e9",
)
# Bytes that are no UTF-8, as they would stand in an address.
RAW = ("%ff%fe", "%ed%a0%80", "%c0%af", "%00", "%", "%2e%2e%2f", "%0d%0a", "%25", "%2f%2f", "%e2%80%ae")
# What sets many rules of a sheet against each other at once.
PLAUSIBLE = ("0", "1", "20", "24.8", "63.5", "100", "1000", "5000", "2027-03-08T06:00", "V1", "S1", "L1", "gin")


def text(dice: random.Random) -> str:
    """One of them."""
    return dice.choice(dice.choice((FIGURES, TIMES, TEXTS, PLAUSIBLE)))


def file(dice: random.Random) -> tuple[str, bytes]:
    """A name and what stands in it: an empty workbook of the site with bytes changed or cut, or no workbook at all."""
    from batches.loading.workbook.template import write_template

    made = io.BytesIO()
    write_template(made)
    content = bytearray(made.getvalue())
    for _ in range(dice.choice((0, 1, 20, 2_000))):
        content[dice.randrange(len(content))] = dice.randrange(256)
    sent = dice.choice(
        (bytes(content), bytes(content[: dice.randrange(len(content))]), b"PK\x03\x04", b"", body(dice)[0])
    )
    name = dice.choice(
        ("site.xlsx", "site.xls", "x" * 300 + ".xlsx", "../../site.xlsx", f"a{NUL}.xlsx", "\u202exslx.exe")
    )
    return name, sent


def body(dice: random.Random) -> tuple[bytes, str]:
    """A body that is no form at all, or one that is not whole, and what it says it is."""
    return dice.choice(
        (
            (b"", "application/x-www-form-urlencoded"),
            (b"{", "application/json"),
            (b"\xff\xfe\x00", "application/x-www-form-urlencoded"),
            (b"a=%00&b=%ff", "application/x-www-form-urlencoded"),
            (b"a=1", "application/x-www-form-urlencoded; charset=no-such-thing"),
            (b"--x\r\n", "multipart/form-data; boundary=x"),
            (b"x", "multipart/form-data"),
            (b'--x\r\nContent-Disposition: form-data; name="a"\r\n\r\n1', "multipart/form-data; boundary=x"),
            (b"&".join(b"a=%d" % one for one in range(6_000)), "application/x-www-form-urlencoded"),
            (b"a=" + b"x" * 3_000_000, "application/x-www-form-urlencoded"),
        )
    )
