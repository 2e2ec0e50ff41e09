CREATE OR REPLACE FUNCTION batches_record_is_kept() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
  RAISE EXCEPTION 'batches_record keeps every number: void a record instead' USING ERRCODE = 'restrict_violation';
END $$
-- next
CREATE TRIGGER batches_record_is_kept BEFORE DELETE ON batches_record
FOR EACH ROW EXECUTE FUNCTION batches_record_is_kept()
