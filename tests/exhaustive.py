"""Tests that go through everything there is, through long random runs, or start the program's own commands again and
again. The default run leaves them out, so that it stays one a person waits for; `.ci/run` runs them on SQLite, and on
PostgreSQL too those about what each engine does in a way of its own.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import Final

HERE: Final = Path(__file__).resolve().parent
EACH_ENGINE: Final = (
    # Every value of every table changed behind the books' back, and every migration.
    HERE / "batches" / "test_tampering_at_large.py",
    HERE / "batches" / "test_tampering_with_records.py",
    HERE / "ledger" / "test_guards_through_migrations.py",
    HERE / "ledger" / "test_tampering.py",
    # Every list and file, and what is asked of a database by many at once or while it is away.
    HERE / "acceptance" / "test_every_list_is_a_table_class.py",
    HERE / "batches" / "pages" / "test_sent_twice.py",
    HERE / "ledger" / "test_comparison_that_failed.py",
    HERE / "ledger" / "test_comparisons_in_nobodys_way.py",
    HERE / "ledger" / "test_concurrency.py",
    # Months that are closed, and what is proved from there on; enquiries, casks and prints beside their months.
    HERE / "batches" / "pages" / "test_register_of_prints.py",
    HERE / "distillery" / "seals" / "test_seals_of_the_books.py",
    HERE / "ledger" / "test_casks_and_bands.py",
    HERE / "ledger" / "test_enquiry_pages.py",
    HERE / "ledger" / "test_periods_records.py",
    HERE / "ledger" / "test_proof_from_a_closing.py",
    # The program's own commands, each a process of its own.
    HERE / "distillery" / "commands" / "test_copies.py",
    HERE / "distillery" / "copies" / "test_copies_by_server.py",
    HERE / "distillery" / "commands" / "test_serve_command.py",
    HERE / "distillery" / "seals" / "test_seals_by_command.py",
    HERE / "distillery" / "test_history.py",
)
PLACES: Final = (
    *EACH_ENGINE,
    # Long random runs beside a plain list of what should be.
    HERE / "batches" / "test_closing_machine.py",
    HERE / "batches" / "test_kept_comparison.py",
    HERE / "batches" / "stores" / "test_silo_draws.py",
    HERE / "batches" / "tracing" / "test_shares_of_random_books.py",
    HERE / "batches" / "stores" / "test_stock_is_conserved.py",
    HERE / "ledger" / "test_state_machine.py",
    HERE / "ledger" / "test_closing_keeps_what_it_finds.py",
    # Whole months compared again and again, months of the simulator, and every way in which a log may be wrong.
    HERE / "batches" / "test_a_receiver_changed.py",
    HERE / "batches" / "test_load_from_cask_to_customer.py",
    HERE / "batches" / "test_load_month.py",
    HERE / "batches" / "test_load_month_command.py",
    HERE / "batches" / "test_load_sample_month.py",
    HERE / "batches" / "test_load_readings_in_time.py",
    HERE / "batches" / "test_load_sets_the_clock.py",
    HERE / "batches" / "test_measuring_tables.py",
    HERE / "batches" / "test_washbacks_at_a_stock_take.py",
    HERE / "ledger" / "test_an_enquiry_of_a_watch.py",
    HERE / "ledger" / "test_enquiries_of_a_month.py",
    HERE / "ledger" / "comparing" / "test_likeness_months.py",
    # A client generated anew.
    HERE / "ledger" / "api" / "test_generated_client.py",
    HERE / "test_simulated_months.py",
    HERE / "test_simulator.py",
    HERE / "test_year_at_harrowmere.py",
    # Every page, list and process, one after another.
    HERE / "acceptance" / "test_every_address_by_every_role.py",
    HERE / "acceptance" / "test_one_answer_for_each_figure.py",
    HERE / "acceptance" / "test_queries_do_not_grow.py",
    HERE / "acceptance" / "test_queries_do_not_grow_with_casks.py",
    HERE / "acceptance" / "test_return_figures_of_the_sample_month.py",
    # A bundle of a whole month, every document of it, and every question an officer asks answered on paper too.
    HERE / "batches" / "pages" / "test_archived_year.py",
    HERE / "batches" / "pages" / "test_checking_a_printed_page.py",
    HERE / "batches" / "pages" / "test_counted_copies.py",
    HERE / "batches" / "pages" / "test_every_printed_digest.py",
    HERE / "batches" / "pages" / "test_officer_bundle.py",
    HERE / "batches" / "pages" / "test_officer_bundle_asked.py",
    HERE / "batches" / "pages" / "test_officers_pages.py",
    HERE / "batches" / "pages" / "test_two_people.py",
    HERE / "batches" / "pages" / "test_what_signs.py",
    HERE / "distillery" / "commands" / "test_full_disk.py",
    HERE / "distillery" / "jobs" / "test_processes.py",
    HERE / "distillery" / "test_owner_only.py",
    HERE / "ledger" / "test_proof_in_processes.py",
    HERE / "ledger" / "test_same_in_every_process.py",
)


@cache
def is_exhaustive(path: Path) -> bool:
    """Whether the tests of a file are left to the runs that have the time."""
    return path in PLACES
