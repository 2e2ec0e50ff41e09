CREATE OR REPLACE FUNCTION batches_record_keeps_its_number() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
  IF NEW.number <> OLD.number OR NEW.kind <> OLD.kind THEN
    RAISE EXCEPTION 'batches_record keeps its kind and number' USING ERRCODE = 'restrict_violation';
  END IF;
  RETURN NEW;
END $$
-- next
CREATE TRIGGER batches_record_keeps_its_number BEFORE UPDATE ON batches_record
FOR EACH ROW EXECUTE FUNCTION batches_record_keeps_its_number()
