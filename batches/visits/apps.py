from django.apps import AppConfig


class VisitsConfig(AppConfig):
    name = "batches.visits"
    label = "visits"

    def ready(self) -> None:
        from batches.visits.guards import visit_guards
        from batches.visits.noting import find_visit_notes
        from distillery.trail.checks import watch
        from distillery.trail.kept import keep_all_of
        from ledger.proof.checking import FINDERS
        from ledger.proof.paper.slips import KEPT

        watch(visit_guards, label="visits")
        keep_all_of("visits")
        FINDERS.append(find_visit_notes)
        KEPT.append(("visits.VisitNote", "digest"))
