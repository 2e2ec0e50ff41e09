CREATE TRIGGER ledger_leg_once_sealed BEFORE INSERT ON ledger_leg
WHEN EXISTS (SELECT 1 FROM ledger_movement WHERE id = NEW.movement_id)
BEGIN
  SELECT RAISE(ABORT, 'a sealed movement takes no more legs');
END
