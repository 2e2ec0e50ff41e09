CREATE TRIGGER batches_clock_in_empty_books BEFORE INSERT ON clock_booksclock
WHEN EXISTS (SELECT 1 FROM batches_record) OR EXISTS (SELECT 1 FROM ledger_movement)
BEGIN
  SELECT RAISE(ABORT, 'clock_booksclock is set before anything is recorded');
END
