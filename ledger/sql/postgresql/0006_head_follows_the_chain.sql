CREATE OR REPLACE FUNCTION ledger_head_follows_the_chain() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
  IF NEW.id <> OLD.id OR NEW.last_number < OLD.last_number
     OR EXISTS (SELECT 1 FROM ledger_movement WHERE id > NEW.last_number)
     OR (NEW.last_number <> OLD.last_number OR NEW.last_seal <> OLD.last_seal)
        AND NOT EXISTS (SELECT 1 FROM ledger_movement WHERE id = NEW.last_number AND seal = NEW.last_seal) THEN
    RAISE EXCEPTION 'ledger_head says which movement is the last, and nothing else' USING ERRCODE = 'restrict_violation';
  END IF;
  RETURN NEW;
END $$
-- next
CREATE TRIGGER ledger_head_follows_the_chain BEFORE UPDATE ON ledger_head
FOR EACH ROW EXECUTE FUNCTION ledger_head_follows_the_chain()
