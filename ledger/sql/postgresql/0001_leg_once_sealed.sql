CREATE OR REPLACE FUNCTION ledger_leg_once_sealed() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
  IF EXISTS (SELECT 1 FROM ledger_movement WHERE id = NEW.movement_id) THEN
    RAISE EXCEPTION 'a sealed movement takes no more legs' USING ERRCODE = 'restrict_violation';
  END IF;
  RETURN NEW;
END $$
-- next
CREATE TRIGGER ledger_leg_once_sealed BEFORE INSERT ON ledger_leg
FOR EACH ROW EXECUTE FUNCTION ledger_leg_once_sealed()
