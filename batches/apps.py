from django.apps import AppConfig


class BatchesConfig(AppConfig):
    name = "batches"

    def ready(self) -> None:
        from batches.audit import checks  # noqa: F401
        from batches.audit.checking import find_board, find_handovers, find_records, find_stock_takes
        from batches.audit.checking_places import find_places
        from batches.audit.closing import records_not_ready
        from batches.audit.exported import HASHED, VERSIONS, lines
        from batches.audit.proving import prove_records, remark_on_records
        from batches.audit.proving_since import prove_records_since
        from batches.audit.proving_standing import prove_standing
        from batches.audit.proving_stores import prove_stores
        from batches.awaited import asked_in_books, overdue_in_books
        from batches.cleaned import cleanings_told
        from batches.distilling.told_of_months import not_written_told, yields_told
        from batches.guards import batches_guards
        from batches.loading.workbook.long_work import BRINGING, TRYING
        from batches.pages.bundle.long_work import BUNDLE
        from batches.pages.recalling.said import recalls_in, ways_of_account
        from batches.pages.returns.ways import way_to_figures
        from batches.pages.running.locked import standing_of_runs
        from batches.records.asking.late import reasons_given
        from batches.records.submit_once import written_of
        from batches.running.holding import on_now
        from batches.sheets.words import words_on_sheet
        from batches.steps import STEPS  # noqa: F401
        from batches.tracing.working import washbacks_at_work
        from distillery.drafts.keeping import WRITTEN
        from distillery.jobs.kinds import register
        from distillery.pen.locked import TOLD as TOLD_WHEN_LOCKED
        from distillery.trail.checks import watch
        from distillery.trail.kept import keep
        from ledger.periods.readiness import look_also
        from ledger.proof.checking import FINDERS
        from ledger.proof.exporting import MORE, More
        from ledger.proof.paper.slips import KEPT
        from ledger.proof.parts.since import PROVERS_SINCE
        from ledger.proof.proving import PROVERS, REMARKS
        from ledger.statements.at_work import ON, TOLD
        from ledger.statements.cleaned import CLEANED
        from ledger.statements.monthly.told import NOT_WRITTEN, YIELDS
        from ledger.statements.monthly.told import WAYS as WAYS_OF_MONTH
        from ledger.views.told_in_books import AWAITED, FOR_A_SECOND
        from ledger.views.told_of_accounts import RECALLED, WAYS, WHY_LATE
        from ledger.words_of_columns import ask_also

        watch(batches_guards)
        keep("batches.Record")
        keep("batches.Reading")
        keep("batches.Signature")
        # What stands on a version is in its digest; a form that was sent is on no page. Neither may go unnoticed.
        keep("batches.Version", only=("record_id", "serial", "digest"), told=False)
        keep("batches.Sending", told=False)
        PROVERS.append(prove_records)
        REMARKS.append(remark_on_records)
        PROVERS.append(prove_standing)
        PROVERS.append(prove_stores)
        PROVERS_SINCE.append(prove_records_since)
        look_also(records_not_ready)
        ask_also(words_on_sheet)
        FINDERS.extend((find_records, find_handovers, find_stock_takes, find_places, find_board))
        KEPT.extend((("batches.Version", "digest"), ("handover.Handover", "digest"), ("counting.Ready", "digest")))
        WRITTEN.append(written_of)
        TOLD.append(washbacks_at_work)
        TOLD_WHEN_LOCKED.append(standing_of_runs)
        ON.append(on_now)
        RECALLED.append(recalls_in)
        WAYS.append(ways_of_account)
        WHY_LATE.append(reasons_given)
        WAYS_OF_MONTH.append(way_to_figures)
        AWAITED.append(overdue_in_books)
        FOR_A_SECOND.append(asked_in_books)
        CLEANED.append(cleanings_told)
        YIELDS.append(yields_told)
        NOT_WRITTEN.append(not_written_told)
        register(TRYING)
        register(BRINGING)
        register(BUNDLE)
        MORE.append(More(VERSIONS, lines, HASHED))
