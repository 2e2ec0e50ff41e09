"""What leaves the site, whatever it is held in: what for, what the law asks to be written of it, duty, and the word
from the other end.

Sources: Excise Goods (Holding, Movement and Duty Point) Regulations 2010, SI 2010/593; Excise Warehousing (Etc.)
Regulations 1988, SI 1988/809; Revenue Traders (Accounts and Records) Regulations 1992, SI 1992/3150; GOV.UK, Alcoholic
products technical guide. The law and the officer decide.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

from batches.sheets import fields
from batches.sheets.sheet import DueBy, Field, Kind, Moment, Note, Phase, Problem, Section
from batches.sheets.typed.completed import Completed
from distillery.rules.names import Duty, duties
from ledger.posting.boundary import CONSTRUCTIVE, DESTROYED, EXPORT, HOME_USE, SAMPLES, UNDER_BOND

KINDS: Final = (HOME_USE, EXPORT, UNDER_BOND, SAMPLES, DESTROYED, CONSTRUCTIVE)
# What a log may say of goods that left without a column for their papers.
LOGGED_WITHOUT_PAPERS: Final = frozenset({UNDER_BOND, DESTROYED})
# Where duty falls due as the goods leave suspension.
BEARS_DUTY: Final = frozenset({HOME_USE, CONSTRUCTIVE})
# What the dated rules of reporting know removals of every kind as.
REPORTED_AS: Final = "removal"
# Characters of the unique reference of a movement document: from memory.
REFERENCE_CHARACTERS: Final = 21

REPORT: Final = Moment(
    name="reported",
    label="Report from the other end",
    when="reported_at",
    phase=Phase.MOVE,
    only_with=("movement_reference", "place_of_exit"),
    due_by=DueBy(operation=REPORTED_AS, occasion="kind"),
)


@dataclass(frozen=True, slots=True)
class Asked:
    """One thing that has to be written of goods that leave for something, and by what text. `must`: without it nobody
    writes down on a page that they left; the rest is said to be missing.
    """

    field: str
    why: str
    source: str
    must: bool = True


ASKED: Final[dict[str, tuple[Asked, ...]]] = {
    HOME_USE: (
        Asked("consignee", "who takes it, unless it is sold by retail", "SI 1992/3150, reg 4(2)", must=False),
        Asked("document", "how the duty is paid", "SI 1988/809, Schedule 2", must=False),
    ),
    EXPORT: (
        Asked("consignee", "who takes it", "SI 1992/3150, reg 4(2)", must=False),
        Asked("document", "the export declaration", "SI 1988/809, Schedule 2; technical guide, section 22", must=False),
        Asked("place_of_exit", "where it leaves the country", "SI 1988/809, Schedule 2", must=False),
    ),
    UNDER_BOND: (
        Asked("consignee", "a movement under bond names who receives it", "SI 2010/593; SI 1988/809, Schedule 2"),
        Asked("consignee_approval", "only who is approved may receive goods under bond", "SI 2010/593"),
        Asked(
            "movement_reference",
            "goods under bond travel with their movement document",
            "SI 2010/593; Excise Notice 197",
        ),
        Asked(
            "guarantee", "the duty on goods under way is secured", "SI 1988/809, Schedule 2; technical guide, section 8"
        ),
        Asked("product_code", "the movement document says what the goods are", "SI 2010/593; Excise Notice 197"),
    ),
    SAMPLES: (Asked("consignee", "who receives a sample", "SI 1988/809, Schedule 2", must=False),),
    DESTROYED: (
        Asked("authority", "without authority, what is destroyed counts as released", "SI 2010/593, reg 21(2)(d)"),
        Asked("witness", "somebody sees it destroyed", "SI 2010/593, reg 21(2)(d); common practice, no source"),
    ),
    CONSTRUCTIVE: (
        Asked("stays_at", "the goods stay, and are kept apart from those under bond", "technical guide, section 24"),
    ),
}
# Boxes that mean something for these alone; written elsewhere, the record would wait for what never comes.
ONLY_FOR: Final[dict[str, tuple[str, ...]]] = {
    "movement_reference": (UNDER_BOND, EXPORT),
    "place_of_exit": (EXPORT,),
    "authority": (DESTROYED,),
    "witness": (DESTROYED,),
    "stays_at": (CONSTRUCTIVE,),
}


def left_for() -> Field:
    """What it left for."""
    return Field(name="kind", label="Left for", kind=Kind.CHOICE, choices=KINDS)


def papers() -> tuple[Section, ...]:
    """Who takes it and on what documents; which boxes have to be filled hangs on what it left for."""
    return (
        Section(
            heading="Who takes it, and on what document",
            items=(
                fields.text("consignee", "Name and address of the consignee", required=False),
                fields.text("document", "Document number", required=False, found_as="document", longest=120),
            ),
        ),
        Section(
            heading="Movement under bond",
            items=(
                fields.name("movement_reference", "Movement reference", found_as="document", required=False),
                fields.name("consignee_approval", "Consignee's approval number", required=False),
                fields.text("guarantee", "Guarantee", longest=120, required=False),
                fields.text("product_code", "Excise product code", longest=24, required=False),
            ),
        ),
        Section(
            heading="Export, destruction, constructive removal",
            items=(
                fields.text("place_of_exit", "Place of exit", longest=120, required=False),
                fields.name("authority", "Authority to destroy", found_as="document", required=False),
                fields.name("witness", "Witness", required=False),
                fields.text("stays_at", "Where the goods stay, duty paid", longest=120, required=False),
            ),
        ),
    )


def measured_arrival() -> tuple[Field, Field]:
    """What arrived of goods that are measured, not counted: litres and strength at 20 °C."""
    return (
        fields.litres("litres_arrived", "Litres at 20 °C that arrived", required=False),
        fields.percent("percent_arrived", "Strength that arrived", decimals=2, required=False),
    )


def other_end(*quantities: Field) -> Section:
    """The word from the other end: when it came, on what document, and how much arrived there."""
    return Section(
        heading="Report of receipt, or proof of export",
        moment=REPORT.name,
        items=(
            fields.when("reported_at", "Reported at", not_before="at"),
            fields.name("report_reference", "Reference of the report or proof", found_as="document", required=False),
            fields.when("arrived_at", "Arrived or shipped at", not_before="at", required=False),
            *quantities,
            fields.text("difference_reason", "Reason given for shortage or excess", required=False),
        ),
    )


def asked_of(written: Completed) -> tuple[Asked, ...]:
    """What has to be written, by what it left for."""
    return ASKED.get(written.text("kind"), ())


def missing_papers(written: Completed) -> list[Problem]:
    """Each thing without which goods may not leave for this."""
    kind, found = written.text("kind"), []
    for one in asked_of(written):
        if one.must and not written.has(one.field):
            label = written.sheet.field(one.field).label
            said = (
                f"{label} is blank, but {one.why} ({one.source}). Write it, or choose what else it left for "
                f"than {kind}."
            )
            found.append(Problem(one.field, None, said))
    return found


def papers_in_part(written: Completed) -> list[Problem]:
    """What a row of a log must have whole: papers of which some are written, and none that belong to goods that leave
    for something else.

    A log that keeps no such papers says what left and nothing of them; its records say on their pages what is missing.
    """
    kind, found = written.text("kind"), []
    begun = any(written.has(one.field) for one in asked_of(written) if one.must and one.field != "consignee")
    if begun or kind not in LOGGED_WITHOUT_PAPERS:
        found += missing_papers(written)
    for name, kinds in ONLY_FOR.items():
        if written.has(name) and kind not in kinds:
            label = written.sheet.field(name).label
            said = f"{label} is written, but it left for {kind}; leave it blank, or choose {' or '.join(kinds)}."
            found.append(Problem(name, None, said))
    return found


def odd_reference(written: Completed) -> list[Note]:
    """A reference that is longer or shorter than those of movement documents."""
    reference = written.text("movement_reference")
    if not reference or len("".join(reference.split())) == REFERENCE_CHARACTERS:
        return []
    said = (
        f"Movement reference has {len(''.join(reference.split()))} characters; that of a movement document has "
        f"{REFERENCE_CHARACTERS} (from memory). Check it against the document."
    )
    return [Note("movement_reference", None, said)]


def to_report(written: Completed, day: Any) -> list[Duty]:
    """What has to be reported of goods that left for this on a day, as the law stood then."""
    return duties(REPORTED_AS, day, written.text("kind"))
