from django.apps import AppConfig


class BatchesConfig(AppConfig):
    name = "batches"

    def ready(self) -> None:
        from batches import checks  # noqa: F401
        from batches.checking import find_records
        from batches.closing import records_not_ready
        from batches.exported import HASHED, VERSIONS, lines
        from batches.guards import batches_guards
        from batches.proving import prove_records
        from distillery.trail.checks import watch
        from distillery.trail.kept import keep
        from ledger.checking import FINDERS
        from ledger.exporting import MORE, More
        from ledger.periods.readiness import look_also
        from ledger.proving import PROVERS

        watch(batches_guards)
        keep("batches.Record")
        keep("batches.Reading")
        keep("batches.Signature")
        keep("batches.Version", only=("record_id", "serial", "digest"))
        PROVERS.append(prove_records)
        look_also(records_not_ready)
        FINDERS.append(find_records)
        MORE.append(More(VERSIONS, lines, HASHED))
