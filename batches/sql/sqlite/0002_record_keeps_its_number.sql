CREATE TRIGGER batches_record_keeps_its_number BEFORE UPDATE ON batches_record
WHEN NEW.number <> OLD.number OR NEW.kind <> OLD.kind
BEGIN
  SELECT RAISE(ABORT, 'batches_record keeps its kind and number');
END
