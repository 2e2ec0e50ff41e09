from importlib import import_module

from django.apps import AppConfig


class LedgerConfig(AppConfig):
    name = "ledger"

    def import_models(self) -> None:
        """Rooms keep their tables beside what uses them; here they become part of the ledger."""
        super().import_models()
        import_module("ledger.enquiries.models")
        import_module("ledger.kept.models")
        import_module("ledger.periods.models")

    def ready(self) -> None:
        from distillery.jobs.kinds import register
        from distillery.rules.setting import entering, two_hands
        from distillery.seals.writing import movements_end
        from distillery.trail.checks import watch
        from distillery.trail.kept import keep
        from ledger.enquiries.compared import remarks
        from ledger.guards import ledger_guards
        from ledger.long_work import CATCHING_UP, EXPORT
        from ledger.periods.calendar import last_closed_day
        from ledger.posting.turns import end_of_chain
        from ledger.proof import checks  # noqa: F401
        from ledger.proof.checking import FINDERS
        from ledger.proof.paper.prints import find_prints
        from ledger.proof.proving import REMARKS

        watch(ledger_guards)
        movements_end[:] = [end_of_chain]
        entering.last_closed_day[:] = [last_closed_day]
        two_hands.in_use[:] = [lambda: end_of_chain()[0] > 0]
        # An account that nothing was booked to yet stands in no seal.
        keep("ledger.Account")
        keep("ledger.Enquiry")
        keep("ledger.EnquiryEvent")
        keep("ledger.EnquiryRun")
        keep("ledger.ComparisonOutcome")
        keep("ledger.CloseRequest")
        # A closing taken off the end would leave no gap in their chain.
        keep("ledger.Closing", only=("number", "digest"), told=False)
        keep("ledger.StockPeriod", only=("code", "digest"), told=False)
        REMARKS.append(remarks)
        FINDERS.append(find_prints)
        register(EXPORT)
        register(CATCHING_UP)
