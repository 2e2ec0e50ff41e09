CREATE OR REPLACE FUNCTION batches_clock_in_empty_books() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
  IF EXISTS (SELECT 1 FROM batches_record) OR EXISTS (SELECT 1 FROM ledger_movement) THEN
    RAISE EXCEPTION 'clock_booksclock is set before anything is recorded' USING ERRCODE = 'restrict_violation';
  END IF;
  RETURN NEW;
END $$
-- next
CREATE TRIGGER batches_clock_in_empty_books BEFORE INSERT ON clock_booksclock
FOR EACH ROW EXECUTE FUNCTION batches_clock_in_empty_books()
