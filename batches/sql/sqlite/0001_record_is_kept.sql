CREATE TRIGGER batches_record_is_kept BEFORE DELETE ON batches_record
BEGIN
  SELECT RAISE(ABORT, 'batches_record keeps every number: void a record instead');
END
