CREATE OR REPLACE FUNCTION ledger_leg_in_open_period() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
  IF EXISTS (SELECT 1 FROM ledger_closing WHERE period >= NEW.period)
     OR EXISTS (SELECT 1 FROM ledger_closing WHERE ends > NEW.happened_at) THEN
    RAISE EXCEPTION 'this period is closed: post into the first open one' USING ERRCODE = 'restrict_violation';
  END IF;
  RETURN NEW;
END $$
-- next
CREATE TRIGGER ledger_leg_in_open_period BEFORE INSERT ON ledger_leg
FOR EACH ROW EXECUTE FUNCTION ledger_leg_in_open_period()
