"""The ledger's long work: exports of large books, and comparing many periods that were left uncompared."""

from __future__ import annotations

from typing import Final

from distillery.figures import number
from distillery.jobs.asking import ask
from distillery.jobs.kinds import Kind
from distillery.jobs.models import Job
from distillery.jobs.progress import NotDone, Progress
from distillery.people.models import Person
from ledger.kept.models import CATCH_UP_CODE

EXPORT_CODE: Final = "export"
BYTES_A_MEGABYTE: Final = 1_000_000


def ask_for_export(person: Person) -> Job:
    """Asks for the ledger as it stands now, however much is written before it is begun. Raises Busy."""
    from ledger.proof.exporting import Export

    head = Export().head
    return ask(EXPORT_CODE, {"movements": head.last_number, "seal": head.last_seal}, by=person)


def _export(progress: Progress) -> str:
    from ledger.models import Head, Movement
    from ledger.proof.exporting import Export

    last, seal = int(progress.arguments["movements"]), str(progress.arguments["seal"])
    if not Movement.objects.filter(pk=last, seal=seal).exists():
        raise NotDone(f"These books have no movement {last} with the seal it was asked for. Ask for an export anew.")
    export = Export(Head(pk=1, last_number=last, last_seal=seal))
    files = export.number_of_files
    begun: list[str] = []
    size = 0
    with progress.path.open("wb") as file:
        for piece in export.zipped(begun.append):
            size += file.write(piece)
            written = number(size / BYTES_A_MEGABYTE, 1)
            progress.tell(
                f"Writing {begun[-1]}, file {len(begun)} of {files}; {written} MB so far", len(begun) - 1, files
            )
    return f"{export.name}.zip"


def _catch_up(progress: Progress) -> str:
    from ledger.enquiries.following import catch_up
    from ledger.kept.models import Uncompared

    waiting = set(Uncompared.objects.values_list("pk", flat=True))
    while waiting:
        catch_up(progress.tell)
        left = set(Uncompared.objects.values_list("pk", flat=True))
        # What cannot be compared stays noted; only what was written meanwhile is worth another round.
        waiting = left - waiting
    return ""


EXPORT: Final = Kind(
    EXPORT_CODE, "Export of the ledger", _export, "It was begun again from the first file, as of the same movement."
)
CATCHING_UP: Final = Kind(
    CATCH_UP_CODE, "Comparing figures", _catch_up, "It goes on with the periods that are not compared yet."
)
