CREATE OR REPLACE FUNCTION ledger_head_is_kept() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
  RAISE EXCEPTION 'ledger_head keeps the end of the chain' USING ERRCODE = 'restrict_violation';
END $$
-- next
CREATE TRIGGER ledger_head_is_kept BEFORE DELETE ON ledger_head
FOR EACH ROW EXECUTE FUNCTION ledger_head_is_kept()
