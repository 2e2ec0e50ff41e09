CREATE OR REPLACE FUNCTION batches_record_keeps_its_number() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
  RAISE EXCEPTION 'batches_record keeps its kind and number' USING ERRCODE = 'restrict_violation';
END $$
-- next
CREATE TRIGGER batches_record_keeps_its_number BEFORE UPDATE ON batches_record
FOR EACH ROW WHEN (NEW.number <> OLD.number OR NEW.kind <> OLD.kind)
EXECUTE FUNCTION batches_record_keeps_its_number()
