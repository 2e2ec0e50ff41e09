CREATE OR REPLACE FUNCTION ledger_closing_balance_once_closed() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
  IF EXISTS (SELECT 1 FROM ledger_closing WHERE number = NEW.closing_id) THEN
    RAISE EXCEPTION 'a closing takes no more balances' USING ERRCODE = 'restrict_violation';
  END IF;
  RETURN NEW;
END $$
-- next
CREATE TRIGGER ledger_closing_balance_once_closed BEFORE INSERT ON ledger_closingbalance
FOR EACH ROW EXECUTE FUNCTION ledger_closing_balance_once_closed()
