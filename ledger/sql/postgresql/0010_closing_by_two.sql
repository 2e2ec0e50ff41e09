CREATE OR REPLACE FUNCTION ledger_closing_by_two() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
  IF NOT EXISTS (
    SELECT 1 FROM ledger_closerequest
     WHERE id = NEW.request_id AND period = NEW.period AND person_id <> NEW.person_id) THEN
    RAISE EXCEPTION 'a period is closed by two people: one asks and another agrees' USING ERRCODE = 'restrict_violation';
  END IF;
  RETURN NEW;
END $$
-- next
CREATE TRIGGER ledger_closing_by_two BEFORE INSERT ON ledger_closing
FOR EACH ROW EXECUTE FUNCTION ledger_closing_by_two()
