CREATE TRIGGER ledger_movement_balances BEFORE INSERT ON ledger_movement
WHEN (SELECT COALESCE(SUM(pure_ul), 0) FROM ledger_leg WHERE movement_id = NEW.id) <> 0
  OR (SELECT COALESCE(SUM(mass_g), 0) FROM ledger_leg WHERE movement_id = NEW.id) <> 0
BEGIN
  SELECT RAISE(ABORT, 'the legs of a movement must sum to nothing');
END
