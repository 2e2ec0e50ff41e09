CREATE TRIGGER ledger_movement_in_open_period BEFORE INSERT ON ledger_movement
WHEN EXISTS (SELECT 1 FROM ledger_closing WHERE period >= NEW.period)
  OR EXISTS (SELECT 1 FROM ledger_closing WHERE ends > NEW.happened_at)
BEGIN
  SELECT RAISE(ABORT, 'this period is closed: post into the first open one');
END
