CREATE TRIGGER ledger_closing_balance_once_closed BEFORE INSERT ON ledger_closingbalance
WHEN EXISTS (SELECT 1 FROM ledger_closing WHERE number = NEW.closing_id)
BEGIN
  SELECT RAISE(ABORT, 'a closing takes no more balances');
END
