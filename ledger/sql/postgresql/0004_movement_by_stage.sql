CREATE OR REPLACE FUNCTION ledger_movement_by_stage() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
  INSERT INTO ledger_stagemonth AS m (period, stage, in_ul, out_ul, loss_ul, difference_ul)
  SELECT NEW.period, s.stage,
         CASE WHEN NEW.corrects_id IS NULL THEN GREATEST(s.through, 0) ELSE LEAST(s.through, 0) END,
         CASE WHEN NEW.corrects_id IS NULL THEN GREATEST(-s.through, 0) ELSE LEAST(-s.through, 0) END,
         s.loss, s.difference
    FROM (SELECT l.stage AS stage,
                 SUM(CASE WHEN a.kind IN ('vessel', 'stock', 'loss', 'difference') THEN l.pure_ul ELSE 0 END)::bigint AS through,
                 SUM(CASE WHEN a.kind = 'loss' THEN l.pure_ul ELSE 0 END)::bigint AS loss,
                 SUM(CASE WHEN a.kind = 'difference' THEN l.pure_ul ELSE 0 END)::bigint AS difference
            FROM ledger_leg l JOIN ledger_account a ON a.id = l.account_id
           WHERE l.movement_id = NEW.id AND l.stage <> ''
           GROUP BY l.stage) s
   WHERE s.through <> 0 OR s.loss <> 0 OR s.difference <> 0
  ON CONFLICT (stage, period) DO UPDATE
     SET in_ul = m.in_ul + excluded.in_ul, out_ul = m.out_ul + excluded.out_ul,
         loss_ul = m.loss_ul + excluded.loss_ul, difference_ul = m.difference_ul + excluded.difference_ul;
  RETURN NULL;
END $$
-- next
CREATE TRIGGER ledger_movement_by_stage AFTER INSERT ON ledger_movement
FOR EACH ROW EXECUTE FUNCTION ledger_movement_by_stage()
