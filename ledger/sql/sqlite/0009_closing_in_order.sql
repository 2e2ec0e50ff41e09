CREATE TRIGGER ledger_closing_in_order BEFORE INSERT ON ledger_closing
WHEN NEW.number <> (SELECT COALESCE(MAX(number), 0) + 1 FROM ledger_closing)
  OR EXISTS (SELECT 1 FROM ledger_closing WHERE period >= NEW.period)
  OR EXISTS (SELECT 1 FROM ledger_closing WHERE ends > NEW.begins)
BEGIN
  SELECT RAISE(ABORT, 'periods are closed in order and each once');
END
