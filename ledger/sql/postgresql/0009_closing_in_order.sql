CREATE OR REPLACE FUNCTION ledger_closing_in_order() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
  IF NEW.number <> (SELECT COALESCE(MAX(number), 0) + 1 FROM ledger_closing)
     OR EXISTS (SELECT 1 FROM ledger_closing WHERE period >= NEW.period)
     OR EXISTS (SELECT 1 FROM ledger_closing WHERE ends > NEW.begins) THEN
    RAISE EXCEPTION 'periods are closed in order and each once' USING ERRCODE = 'restrict_violation';
  END IF;
  RETURN NEW;
END $$
-- next
CREATE TRIGGER ledger_closing_in_order BEFORE INSERT ON ledger_closing
FOR EACH ROW EXECUTE FUNCTION ledger_closing_in_order()
