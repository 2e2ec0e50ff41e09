"""Every table of the database in one list, and by what the proof knows that it says what was written.

A table that is added belongs into this list: a test walks all models of all apps and asks for it. What a page shows
as fact is sealed, or worked out again from what is sealed, or held against its trail.
"""

from __future__ import annotations

from enum import StrEnum
from typing import Final


class Proved(StrEnum):
    """How `verify_ledger` knows."""

    SEALED = "in a seal or digest, which is worked out again"
    SUM = "added up again from the legs"
    FOLLOWED = "worked out again from what is sealed"
    TRAIL = "compared with what its trail says was written, which the seals of the books cover"
    EMPTY = "looked at: nothing may stand in it"
    DERIVED = "worked out anew whenever what it was made from has moved on"
    GUARDED = "kept by the triggers on it, which are looked at; nothing in the books rests on it"
    NO_FACT = "no page shows it as a fact"


TABLES: Final[dict[str, tuple[Proved, ...]]] = {
    # The ledger
    "ledger_movement": (Proved.SEALED,),
    "ledger_leg": (Proved.SEALED,),
    "ledger_measurement": (Proved.SEALED,),
    "ledger_figure": (Proved.SEALED,),
    "ledger_duty": (Proved.SEALED,),
    "ledger_account": (Proved.SEALED, Proved.TRAIL),
    "ledger_head": (Proved.FOLLOWED,),
    "ledger_balance": (Proved.SUM,),
    "ledger_runningbalance": (Proved.SUM,),
    "ledger_accountmonth": (Proved.SUM,),
    "ledger_stagemonth": (Proved.SUM,),
    "ledger_hand": (Proved.EMPTY,),
    "ledger_stockperiod": (Proved.SEALED, Proved.TRAIL),
    "ledger_closerequest": (Proved.TRAIL,),
    "ledger_closing": (Proved.SEALED, Proved.TRAIL),
    "ledger_closingbalance": (Proved.SEALED,),
    "ledger_enquiry": (Proved.TRAIL,),
    "ledger_enquiryevent": (Proved.TRAIL,),
    "ledger_enquiryrun": (Proved.TRAIL,),
    "ledger_comparisonoutcome": (Proved.TRAIL,),
    "ledger_keptcomparison": (Proved.DERIVED,),
    # Work that is still to be done; a closing compares whether or not it is noted.
    "ledger_uncompared": (Proved.NO_FACT,),
    # Batch records
    "batches_version": (Proved.SEALED, Proved.TRAIL),
    "batches_posted": (Proved.FOLLOWED,),
    "batches_record": (Proved.FOLLOWED, Proved.TRAIL),
    "batches_reading": (Proved.TRAIL,),
    "batches_signature": (Proved.TRAIL,),
    "batches_mention": (Proved.FOLLOWED,),
    "batches_contents": (Proved.FOLLOWED,),
    "batches_link": (Proved.FOLLOWED,),
    "batches_series": (Proved.FOLLOWED,),
    "batches_sending": (Proved.TRAIL,),
    # Materials by lot
    "stores_lot": (Proved.FOLLOWED,),
    "stores_stockentry": (Proved.FOLLOWED, Proved.TRAIL),
    # What one shift tells the next
    "handover_note": (Proved.TRAIL,),
    "handover_handover": (Proved.TRAIL,),
    "handover_taken": (Proved.TRAIL,),
    # What officers noted of their visits
    "visits_visitnote": (Proved.TRAIL,),
    # What was called back
    "recalls_recall": (Proved.TRAIL,),
    "recalls_endasked": (Proved.TRAIL,),
    "recalls_ended": (Proved.TRAIL,),
    # Stock takes
    "counting_stocktake": (Proved.TRAIL,),
    "counting_count": (Proved.TRAIL,),
    "counting_reason": (Proved.TRAIL,),
    "counting_ready": (Proved.TRAIL,),
    "counting_ending": (Proved.TRAIL,),
    # Plant, rules, people
    "plant_vessel": (Proved.TRAIL,),
    "plant_calibrationpoint": (Proved.TRAIL,),
    "plant_cask": (Proved.TRAIL,),
    "plant_instrument": (Proved.TRAIL,),
    "plant_recipe": (Proved.TRAIL,),
    "plant_recipeversion": (Proved.TRAIL,),
    "plant_warehouserow": (Proved.TRAIL,),
    "plant_keyholder": (Proved.TRAIL,),
    "plant_instrumentuse": (Proved.TRAIL,),
    "plant_certificate": (Proved.TRAIL,),
    "plant_certificatepoint": (Proved.TRAIL,),
    "plant_vesselcalibration": (Proved.TRAIL,),
    "plant_obscurationfound": (Proved.TRAIL,),
    "rules_dutyrate": (Proved.TRAIL,),
    "rules_reviewthreshold": (Proved.TRAIL,),
    "rules_gravityfactor": (Proved.TRAIL,),
    "rules_caskband": (Proved.TRAIL,),
    "rules_losscause": (Proved.TRAIL,),
    "rules_usualfigure": (Proved.TRAIL,),
    "rules_roundingrule": (Proved.TRAIL,),
    "rules_namerequirement": (Proved.TRAIL,),
    "rules_reportingduty": (Proved.TRAIL,),
    "rules_packageerror": (Proved.TRAIL,),
    "rules_nominalquantity": (Proved.TRAIL,),
    "rules_sitedetails": (Proved.TRAIL,),
    "rules_interval": (Proved.TRAIL,),
    "rules_entered": (Proved.TRAIL,),
    "rules_statement": (Proved.TRAIL,),
    "rules_figureasked": (Proved.TRAIL,),
    "rules_figureanswered": (Proved.TRAIL,),
    "clock_booksclock": (Proved.TRAIL,),
    "people_person": (Proved.TRAIL,),
    "people_person_groups": (Proved.TRAIL,),
    "people_personchange": (Proved.TRAIL,),
    "pen_enrolledpc": (Proved.TRAIL,),
    "pen_pinchosen": (Proved.TRAIL,),
    "pen_securitykey": (Proved.TRAIL,),
    "pen_datedpass": (Proved.TRAIL,),
    "pen_onshift": (Proved.TRAIL,),
    "pen_try": (Proved.GUARDED,),
    # Which programs read the books.
    "tokens_consumertoken": (Proved.TRAIL,),
    "tokens_tokenended": (Proved.TRAIL,),
    "tokens_tokenused": (Proved.TRAIL,),
    # What went out on paper.
    "prints_print": (Proved.TRAIL,),
    # Each is read only where it gives the digest it stands under, which the register has.
    "prints_printedfigures": (Proved.GUARDED,),
    "prints_issuedsheet": (Proved.TRAIL,),
    "prints_sheetreturned": (Proved.TRAIL,),
    # What a PIN is compared with is on no page, and in no trail or export.
    "pen_pinhash": (Proved.NO_FACT,),
    # What a role is called decides who may write, so the names of the roles are held too.
    "auth_group": (Proved.TRAIL,),
    # Entries of the trail are themselves the record of what each row says or has said.
    "trail_entry": (Proved.SEALED,),
    "trail_claim": (Proved.TRAIL,),
    "seals_booksseal": (Proved.SEALED,),
    "seals_putback": (Proved.TRAIL,),
    "seals_sealgap": (Proved.TRAIL,),
    # Long work that is to be done or was; what it made is proved by what is in it.
    "jobs_job": (Proved.NO_FACT,),
    # What was typed and is not saved; marked so wherever it is shown.
    "drafts_draft": (Proved.NO_FACT,),
    # Nothing asks the framework's own permissions; sessions are tokens, and the rest is its bookkeeping.
    "people_person_user_permissions": (Proved.NO_FACT,),
    "auth_group_permissions": (Proved.NO_FACT,),
    "auth_permission": (Proved.NO_FACT,),
    "django_content_type": (Proved.NO_FACT,),
    "django_session": (Proved.NO_FACT,),
    "django_migrations": (Proved.NO_FACT,),
}
