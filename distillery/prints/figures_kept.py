"""The figures of counted copies, kept so that a later version can say what is other in it."""

from __future__ import annotations

import base64
import hashlib
import json
import zlib
from typing import Final

from distillery.printing.noting import Changed, Sheet, as_text
from distillery.prints.differing import differing
from distillery.prints.models import PrintedFigures

# Characters, packed; of a longer document only the parts are compared.
MOST_PACKED: Final = 200_000
# Bytes that what was packed may come to, so that a row that was forged costs no memory.
MOST_TEXT: Final = 20_000_000


def keep_figures(sheet: Sheet) -> None:
    """Keeps what stands on a document, once for each digest. To be called where the register is written."""
    if sheet.plain is None or PrintedFigures.objects.filter(digest=sheet.digest).exists():
        return
    packed = base64.b64encode(zlib.compress(as_text(sheet.plain).encode())).decode()
    if len(packed) <= MOST_PACKED:
        PrintedFigures(digest=sheet.digest, packed=packed).save(force_insert=True)


def figures_of(digest: str) -> object:
    """What stood on the copies with a digest, as plain data; None where it was not kept or does not give the digest."""
    kept = PrintedFigures.objects.filter(digest=digest).first()
    if kept is None:
        return None
    try:
        text = zlib.decompressobj().decompress(base64.b64decode(kept.packed), MOST_TEXT)
    except (ValueError, zlib.error):
        return None
    return json.loads(text) if hashlib.sha256(text).hexdigest() == digest else None


def figures_changed(digest: str, now: Sheet) -> tuple[Changed, ...]:
    """What is other on a document than on the copies with a digest, as far as those were kept."""
    if digest == now.digest or now.plain is None:
        return ()
    then = figures_of(digest)
    return tuple(differing(then, now.plain)) if then is not None else ()
