CREATE TRIGGER ledger_closing_by_two BEFORE INSERT ON ledger_closing
WHEN NOT EXISTS (
  SELECT 1 FROM ledger_closerequest
   WHERE id = NEW.request_id AND period = NEW.period AND person_id <> NEW.person_id)
BEGIN
  SELECT RAISE(ABORT, 'a period is closed by two people: one asks and another agrees');
END
