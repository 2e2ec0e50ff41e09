CREATE TRIGGER ledger_head_follows_the_chain BEFORE UPDATE ON ledger_head
WHEN NEW.id <> OLD.id OR NEW.last_number < OLD.last_number
  OR EXISTS (SELECT 1 FROM ledger_movement WHERE id > NEW.last_number)
  OR (NEW.last_number <> OLD.last_number OR NEW.last_seal <> OLD.last_seal)
     AND NOT EXISTS (SELECT 1 FROM ledger_movement WHERE id = NEW.last_number AND seal = NEW.last_seal)
BEGIN
  SELECT RAISE(ABORT, 'ledger_head says which movement is the last, and nothing else');
END
