from django.apps import AppConfig


class LedgerConfig(AppConfig):
    name = "ledger"

    def ready(self) -> None:
        from distillery.trail.checks import watch
        from distillery.trail.kept import keep
        from ledger import checks  # noqa: F401
        from ledger.guards import ledger_guards

        watch(ledger_guards)
        # An account that nothing was booked to yet stands in no seal.
        keep("ledger.Account")
        keep("ledger.Enquiry")
        keep("ledger.EnquiryEvent")
        keep("ledger.CloseRequest")
        # A closing taken off the end would leave no gap in their chain.
        keep("ledger.Closing", only=("number", "digest"))
        keep("ledger.StockPeriod", only=("code", "digest"))
