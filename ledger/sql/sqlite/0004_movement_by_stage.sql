CREATE TRIGGER ledger_movement_by_stage AFTER INSERT ON ledger_movement
BEGIN
  INSERT INTO ledger_hand (id) VALUES (1);
  INSERT INTO ledger_stagemonth (period, stage, in_ul, out_ul, loss_ul, difference_ul)
  SELECT NEW.period, s.stage,
         CASE WHEN NEW.corrects_id IS NULL THEN MAX(s.through, 0) ELSE MIN(s.through, 0) END,
         CASE WHEN NEW.corrects_id IS NULL THEN MAX(-s.through, 0) ELSE MIN(-s.through, 0) END,
         s.loss, s.difference
    FROM (SELECT l.stage AS stage,
                 SUM(CASE WHEN a.kind IN ('vessel', 'stock', 'loss', 'difference') THEN l.pure_ul ELSE 0 END) AS through,
                 SUM(CASE WHEN a.kind = 'loss' THEN l.pure_ul ELSE 0 END) AS loss,
                 SUM(CASE WHEN a.kind = 'difference' THEN l.pure_ul ELSE 0 END) AS difference
            FROM ledger_leg l JOIN ledger_account a ON a.id = l.account_id
           WHERE l.movement_id = NEW.id AND l.stage <> ''
           GROUP BY l.stage) s
   WHERE s.through <> 0 OR s.loss <> 0 OR s.difference <> 0
  ON CONFLICT (stage, period) DO UPDATE
     SET in_ul = in_ul + excluded.in_ul, out_ul = out_ul + excluded.out_ul,
         loss_ul = loss_ul + excluded.loss_ul, difference_ul = difference_ul + excluded.difference_ul;
  DELETE FROM ledger_hand;
END
