"""Opening a workbook that somebody sent: bounded in every direction before any of it is read.

A workbook is a zip archive of XML parts (ECMA-376, part 2). An archive may unpack to a thousand times its size, and XML
may define entities that grow without bound; the parts of a workbook define none. So sizes are asked first, and a part
that defines anything is refused.
"""

from __future__ import annotations

import zipfile
from pathlib import Path
from typing import IO, TYPE_CHECKING, Final

if TYPE_CHECKING:
    from openpyxl import Workbook

MOST_BYTES: Final = 20_000_000
MOST_PARTS: Final = 500
MOST_UNPACKED: Final = 200_000_000
MOST_SHARED: Final = 40_000_000
# Rows that are alike shrink to a fiftieth at most in workbooks tried; zeros shrink a thousandfold.
MOST_TIMES: Final = 200
SMALL: Final = 1_000_000
MOST_SHEETS: Final = 40
_PIECE: Final = 1_000_000
# XML 1.0, section 2.8; a part in two-byte characters has them apart by noughts.
_DEFINES: Final = (b"<!DOCTYPE", b"<!ENTITY", "<!DOCTYPE".encode("utf-16-le"), "<!ENTITY".encode("utf-16-le"))
_LONGEST: Final = max(map(len, _DEFINES))
NO_WORKBOOK: Final = (
    "This is no workbook that can be read. Save it as an .xlsx workbook without a password, and choose that."
)


class UnfitWorkbook(ValueError):
    """A file that is not read at all; `str()` is the sentence."""


def opened(path: Path) -> Workbook:
    """The workbook, read row by row. Raises UnfitWorkbook."""
    if path.is_dir():
        raise UnfitWorkbook(f"{path.name} is a folder; name the workbook in it.")
    try:
        size = path.stat().st_size
    except OSError as error:
        raise UnfitWorkbook(f"There is no file {path}, or it cannot be read.") from error
    if size > MOST_BYTES:
        raise UnfitWorkbook(
            f"The workbook has {size / 1e6:.0f} MB; at most {MOST_BYTES / 1e6:.0f} MB are read. Bring it in in parts."
        )
    try:
        with zipfile.ZipFile(path) as archive:
            _check(archive)
    except (zipfile.BadZipFile, OSError, NotImplementedError, RuntimeError, EOFError) as error:
        raise UnfitWorkbook(NO_WORKBOOK) from error
    from openpyxl import load_workbook

    try:
        book = load_workbook(path, read_only=True, keep_links=False)
    except Exception as error:
        # Whatever is wrong inside, the library says it in words of its own.
        raise UnfitWorkbook(NO_WORKBOOK) from error
    if len(book.sheetnames) > MOST_SHEETS:
        book.close()
        raise UnfitWorkbook(f"The workbook has {len(book.sheetnames)} sheets; at most {MOST_SHEETS} are read.")
    return book


def _check(archive: zipfile.ZipFile) -> None:
    parts = archive.infolist()
    if "[Content_Types].xml" not in archive.namelist():
        raise UnfitWorkbook(NO_WORKBOOK)
    if len(parts) > MOST_PARTS:
        raise UnfitWorkbook(f"The workbook has {len(parts)} parts; at most {MOST_PARTS} are read. {_ANEW}")
    unpacked = sum(part.file_size for part in parts)
    if unpacked > MOST_UNPACKED:
        raise UnfitWorkbook(
            f"The workbook unpacks to {unpacked / 1e6:.0f} MB; at most {MOST_UNPACKED / 1e6:.0f} MB are read. {_ANEW}"
        )
    for part in parts:
        if part.file_size > SMALL and part.file_size > MOST_TIMES * max(1, part.compress_size):
            raise UnfitWorkbook(f"A part of the workbook unpacks to more than {MOST_TIMES} times its size. {_ANEW}")
        if part.filename.endswith("sharedStrings.xml") and part.file_size > MOST_SHARED:
            raise UnfitWorkbook(f"The texts of the workbook have more than {MOST_SHARED / 1e6:.0f} MB. {_ANEW}")
        if part.filename.lower().endswith((".xml", ".rels")):
            with archive.open(part) as file:
                if _defines(file):
                    raise UnfitWorkbook(f"A part of the workbook defines entities, which no workbook needs. {_ANEW}")


_ANEW: Final = "Copy the cells into the empty workbook of this site, and choose that."


def _defines(file: IO[bytes]) -> bool:
    last = b""
    while piece := file.read(_PIECE):
        both = last + piece
        if any(mark in both for mark in _DEFINES):
            return True
        last = piece[-_LONGEST:]
    return False
