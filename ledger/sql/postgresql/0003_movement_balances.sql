CREATE OR REPLACE FUNCTION ledger_movement_balances() RETURNS trigger LANGUAGE plpgsql AS $$
DECLARE
  pure numeric;
  mass numeric;
BEGIN
  SELECT COALESCE(SUM(pure_ul), 0), COALESCE(SUM(mass_g), 0) INTO pure, mass
    FROM ledger_leg WHERE movement_id = NEW.id;
  IF pure <> 0 OR mass <> 0 THEN
    RAISE EXCEPTION 'the legs of a movement must sum to nothing' USING ERRCODE = 'restrict_violation';
  END IF;
  RETURN NEW;
END $$
-- next
CREATE TRIGGER ledger_movement_balances BEFORE INSERT ON ledger_movement
FOR EACH ROW EXECUTE FUNCTION ledger_movement_balances()
