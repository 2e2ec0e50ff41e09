CREATE TRIGGER ledger_head_is_kept BEFORE DELETE ON ledger_head
BEGIN
  SELECT RAISE(ABORT, 'ledger_head keeps the end of the chain');
END
